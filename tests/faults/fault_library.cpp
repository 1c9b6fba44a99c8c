// SPDX-License-Identifier: Apache-2.0
// Stands between a program and the system (LD_PRELOAD), for the tests of faults. By environment:
//   FAULT_KIND   which calls count: write, sync, open, name (rename, link, unlink, mkdir), memory,
//                thread, or kill (any of the first four)
//   FAULT_AT     the how manieth of them fails; FAULT_LONG=1: and all behind it
//   FAULT_ERROR  with which errno; kill: the process ends there and then
//   FAULT_COUNT  a file that gets the number of calls at the end
//   FAULT_ARM    calls count only once this file is there
//   FAULT_TRACE  a file that gets every change of a file and every flush, in order
// Standard output and error are let be.
#include <cerrno>
#include <cstdarg>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include <dlfcn.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

namespace {

enum class Kind { none, write, sync, open, name, memory, thread, kill };

struct Plan {
  Kind kind = Kind::none;
  long at = 0;
  bool lasting = false;
  int error = EIO;
  const char* arm = nullptr;
  int trace = -1;
  bool armed = true;
};
Plan plan;
long seen = 0;
bool ready = false, in_main = false;  ///< before main nobody could say what went wrong
int (*real_main)(int, char**, char**) = nullptr;
int counted_main(int argc, char** argv, char** environment) {
  in_main = true;
  return real_main(argc, argv, environment);
}

template <class Function>
Function real(const char* name) {
  return reinterpret_cast<Function>(dlsym(RTLD_NEXT, name));
}

__attribute__((constructor)) void begin() {
  const char* kind = std::getenv("FAULT_KIND");
  const auto is = [&](const char* word) { return kind != nullptr && std::strcmp(kind, word) == 0; };
  plan.kind = is("write")    ? Kind::write
              : is("sync")   ? Kind::sync
              : is("open")   ? Kind::open
              : is("name")   ? Kind::name
              : is("memory") ? Kind::memory
              : is("thread") ? Kind::thread
              : is("kill")   ? Kind::kill
                             : Kind::none;
  if (const char* at = std::getenv("FAULT_AT")) plan.at = std::atol(at);
  if (const char* error = std::getenv("FAULT_ERROR")) plan.error = std::atoi(error);
  plan.lasting = std::getenv("FAULT_LONG") != nullptr;
  plan.arm = std::getenv("FAULT_ARM");
  plan.armed = plan.arm == nullptr;
  if (const char* trace = std::getenv("FAULT_TRACE"))
    plan.trace = static_cast<int>(
        ::syscall(SYS_openat, AT_FDCWD, trace, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600));
  ready = true;
}

__attribute__((destructor)) void end() {
  ready = in_main = false;
  const char* count = std::getenv("FAULT_COUNT");
  if (count == nullptr) return;
  char text[32];
  const int n = std::snprintf(text, sizeof text, "%ld", seen);
  const int fd =
      static_cast<int>(::syscall(SYS_openat, AT_FDCWD, count, O_WRONLY | O_CREAT | O_TRUNC, 0600));
  (void)::syscall(SYS_write, fd, text, n);
  ::syscall(SYS_close, fd);
}

/// Whether this call fails, with errno set.
bool fails(Kind kind) {
  if (!ready || plan.kind == Kind::none || (kind == Kind::memory && !in_main)) return false;
  const bool counts = plan.kind == kind ||
                      (plan.kind == Kind::kill && kind != Kind::memory && kind != Kind::thread);
  if (!counts) return false;
  if (!plan.armed) {
    if (::syscall(SYS_faccessat, AT_FDCWD, plan.arm, F_OK) != 0) return false;
    plan.armed = true;
  }
  const long n = __atomic_add_fetch(&seen, 1, __ATOMIC_SEQ_CST);
  if (plan.at == 0 || n < plan.at || (n > plan.at && !plan.lasting)) return false;
  if (plan.kind == Kind::kill) ::syscall(SYS_kill, ::getpid(), SIGKILL);
  errno = plan.error;
  return true;
}

// --- the trace: kind, length of each of two texts, offset, then the texts
void put(const void* bytes, std::size_t size) {
  const char* at = static_cast<const char*>(bytes);
  while (size > 0) {
    const long n = ::syscall(SYS_write, plan.trace, at, size);
    if (n <= 0) return;
    at += n;
    size -= static_cast<std::size_t>(n);
  }
}
void trace(char kind, const char* path, const void* data, std::size_t size, std::int64_t offset) {
  if (!ready || plan.trace < 0) return;
  char whole[4096];
  if (path[0] != '/') {
    char here[2048];
    if (::syscall(SYS_getcwd, here, sizeof here) < 0) return;
    std::snprintf(whole, sizeof whole, "%s/%s", here, path);
    path = whole;
  }
  const std::uint64_t lengths[2] = {std::strlen(path), size};
  put(&kind, 1);
  put(lengths, sizeof lengths);
  put(&offset, sizeof offset);
  put(path, lengths[0]);
  put(data, size);
}
/// The name of what a descriptor stands for; empty for what is no file of a disk.
const char* path_of(int fd, char (&path)[2048]) {
  path[0] = '\0';
  if (!ready || plan.trace < 0) return path;
  char link[64];
  std::snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  const long n = ::syscall(SYS_readlinkat, AT_FDCWD, link, path, sizeof path - 1);
  path[n > 0 ? n : 0] = '\0';
  if (path[0] != '/' || std::strncmp(path, "/dev/", 5) == 0) path[0] = '\0';
  return path;
}
void trace_write(int fd, const void* data, ssize_t size, off_t offset) {
  char path[2048];
  if (size > 0 && *path_of(fd, path) != '\0')
    trace('w', path, data, static_cast<std::size_t>(size), offset);
}

bool is_disk(int fd) {
  if (fd <= 2) return false;
  struct ::stat s {};
  return ::fstat(fd, &s) == 0 && S_ISREG(s.st_mode);
}

int opened(const char* path, int flags, mode_t mode, int folder) {
  const bool writes = (flags & (O_CREAT | O_WRONLY | O_RDWR)) != 0;
  if (writes && fails(Kind::open)) return -1;
  struct ::stat s {};
  const bool fresh = (flags & O_CREAT) != 0 && ::fstatat(folder, path, &s, 0) != 0;
  const int fd = static_cast<int>(::syscall(SYS_openat, folder, path, flags, mode));
  if (fd < 0) {
    return fd;
  }
  if (fresh) trace('c', path, "", 0, 0);
  if (!fresh && (flags & O_TRUNC) != 0) trace('t', path, "", 0, 0);
  return fd;
}

}  // namespace

// The system's own declarations bear attributes that a definition of ours cannot repeat.
#pragma GCC diagnostic ignored "-Wattributes"

extern "C" {

ssize_t write(int fd, const void* data, size_t size) {
  if (!is_disk(fd)) return ::syscall(SYS_write, fd, data, size);
  if (fails(Kind::write)) return -1;
  const off_t offset = plan.trace >= 0 ? ::lseek(fd, 0, SEEK_CUR) : 0;
  const ssize_t n = ::syscall(SYS_write, fd, data, size);
  trace_write(fd, data, n, offset);
  return n;
}
ssize_t pwrite64(int fd, const void* data, size_t size, off64_t offset) {
  if (is_disk(fd) && fails(Kind::write)) return -1;
  const ssize_t n = ::syscall(SYS_pwrite64, fd, data, size, offset);
  trace_write(fd, data, n, offset);
  return n;
}
ssize_t pwrite(int fd, const void* data, size_t size, off_t offset) {
  return pwrite64(fd, data, size, offset);
}
int ftruncate64(int fd, off64_t size) noexcept {
  if (is_disk(fd) && fails(Kind::write)) return -1;
  const int code = static_cast<int>(::syscall(SYS_ftruncate, fd, size));
  char path[2048];
  if (code == 0 && *path_of(fd, path) != '\0') trace('t', path, "", 0, size);
  return code;
}
int ftruncate(int fd, off_t size) noexcept { return ftruncate64(fd, size); }
int fsync(int fd) {
  if (fails(Kind::sync)) return -1;
  const int code = static_cast<int>(::syscall(SYS_fsync, fd));
  char path[2048];
  if (code == 0 && *path_of(fd, path) != '\0') trace('s', path, "", 0, 0);
  return code;
}
int fdatasync(int fd) {
  if (fails(Kind::sync)) return -1;
  const int code = static_cast<int>(::syscall(SYS_fdatasync, fd));
  char path[2048];
  if (code == 0 && *path_of(fd, path) != '\0') trace('s', path, "", 0, 0);
  return code;
}

int open(const char* path, int flags, ...) {
  va_list list;
  va_start(list, flags);
  const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(list, mode_t) : 0;
  va_end(list);
  return opened(path, flags, mode, AT_FDCWD);
}
int open64(const char* path, int flags, ...) {
  va_list list;
  va_start(list, flags);
  const mode_t mode = (flags & O_CREAT) != 0 ? va_arg(list, mode_t) : 0;
  va_end(list);
  return opened(path, flags, mode, AT_FDCWD);
}

int rename(const char* from, const char* to) noexcept {
  if (fails(Kind::name)) return -1;
  const int code = static_cast<int>(::syscall(SYS_rename, from, to));
  if (code == 0) trace('r', from, to, std::strlen(to), 0);
  return code;
}
int renameat2(int a, const char* from, int b, const char* to, unsigned flags) noexcept {
  if (fails(Kind::name)) return -1;
  const int code = static_cast<int>(::syscall(SYS_renameat2, a, from, b, to, flags));
  if (code == 0) trace('r', from, to, std::strlen(to), 0);
  return code;
}
int unlink(const char* path) noexcept {
  if (fails(Kind::name)) return -1;
  const int code = static_cast<int>(::syscall(SYS_unlink, path));
  if (code == 0) trace('u', path, "", 0, 0);
  return code;
}
int remove(const char* path) noexcept {
  if (fails(Kind::name)) return -1;
  static const auto next = real<int (*)(const char*)>("remove");
  struct ::stat s {};
  const bool file = ::lstat(path, &s) == 0 && S_ISREG(s.st_mode);
  const int code = next(path);
  if (code == 0 && file) trace('u', path, "", 0, 0);
  return code;
}
int mkdir(const char* path, mode_t mode) noexcept {
  if (fails(Kind::name)) return -1;
  return static_cast<int>(::syscall(SYS_mkdir, path, mode));
}

int pthread_create(pthread_t* thread, const pthread_attr_t* attributes, void* (*start)(void*),
                   void* argument) noexcept {
  static const auto next =
      real<int (*)(pthread_t*, const pthread_attr_t*, void* (*)(void*), void*)>("pthread_create");
  if (fails(Kind::thread)) return EAGAIN;
  return next(thread, attributes, start, argument);
}

int __libc_start_main(int (*main)(int, char**, char**), int argc, char** argv, void (*init)(),
                      void (*fini)(), void (*rtld_fini)(), void* stack_end) {
  const auto next = real<decltype(&__libc_start_main)>("__libc_start_main");
  real_main = main;
  return next(counted_main, argc, argv, init, fini, rtld_fini, stack_end);
}

void* __libc_malloc(size_t size);
void* __libc_calloc(size_t n, size_t size);
void* __libc_realloc(void* old, size_t size);
void* malloc(size_t size) { return fails(Kind::memory) ? nullptr : __libc_malloc(size); }
void* calloc(size_t n, size_t size) {
  return fails(Kind::memory) ? nullptr : __libc_calloc(n, size);
}
void* realloc(void* old, size_t size) {
  return fails(Kind::memory) ? nullptr : __libc_realloc(old, size);
}

}  // extern "C"
