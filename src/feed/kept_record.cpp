// SPDX-License-Identifier: Apache-2.0
#include "feed/kept_record.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cmath>
#include <cstring>

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zstd.h>

#include "base/input_error.hpp"

namespace feed {
namespace {

constexpr char magic[8] = {'P', 'H', 'K', 'E', 'P', 'T', '0', '1'};
constexpr std::size_t head_bytes = 16;  // length, kind, checksum

/// CRC-32 of IEEE 802.3, reflected.
std::uint32_t checksum(std::string_view bytes) {
  static const auto table = [] {
    std::array<std::uint32_t, 256> t{};
    for (std::uint32_t i = 0; i < 256; ++i) {
      std::uint32_t c = i;
      for (int k = 0; k < 8; ++k) c = (c & 1U) != 0 ? 0xEDB88320U ^ (c >> 1U) : c >> 1U;
      t[i] = c;
    }
    return t;
  }();
  std::uint32_t c = 0xFFFFFFFFU;
  for (const char b : bytes) c = table[(c ^ static_cast<unsigned char>(b)) & 0xFFU] ^ (c >> 8U);
  return c ^ 0xFFFFFFFFU;
}

[[noreturn]] void refuse(const std::string& found) {
  throw base::InputError({}, found, "a block of a kept record",
                         "keep the file as Packhouse wrote it");
}

class Writer {
 public:
  template <class T>
  void put(const T& value) {
    bytes_.append(reinterpret_cast<const char*>(&value), sizeof value);
  }
  void number(std::uint64_t v) {  // seven bits a byte
    while (v >= 0x80U) bytes_ += char(0x80U | (v & 0x7FU)), v >>= 7U;
    bytes_ += char(v);
  }
  void text(std::string_view s) { number(s.size()), bytes_ += s; }
  std::string take() { return std::move(bytes_); }
  [[nodiscard]] std::size_t size() const { return bytes_.size(); }

 private:
  std::string bytes_;
};

class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes) {}
  template <class T>
  T get() {
    T value;
    if (bytes_.size() - at_ < sizeof value) refuse("a block that ends too soon");
    std::memcpy(&value, bytes_.data() + at_, sizeof value);
    at_ += sizeof value;
    return value;
  }
  std::uint64_t number() {
    std::uint64_t v = 0;
    for (unsigned shift = 0; shift < 64; shift += 7) {
      const auto b = get<unsigned char>();
      v |= std::uint64_t(b & 0x7FU) << shift;
      if ((b & 0x80U) == 0) return v;
    }
    refuse("a number without an end");
  }
  std::string_view text() {
    const std::size_t n = number();
    if (bytes_.size() - at_ < n) refuse("a block that ends too soon");
    at_ += n;
    return bytes_.substr(at_ - n, n);
  }

 private:
  std::string_view bytes_;
  std::size_t at_ = 0;
};

std::string squeeze(std::string_view raw) {
  std::string out(ZSTD_compressBound(raw.size()), '\0');
  const std::size_t n = ZSTD_compress(out.data(), out.size(), raw.data(), raw.size(), 12);
  if (ZSTD_isError(n) != 0) throw std::bad_alloc();
  out.resize(n);
  return out;
}

std::string unsqueeze(std::string_view packed, std::size_t most) {
  const auto size = ZSTD_getFrameContentSize(packed.data(), packed.size());
  if (size == ZSTD_CONTENTSIZE_ERROR || size == ZSTD_CONTENTSIZE_UNKNOWN || size > most)
    refuse("a block of an impossible size");
  std::string raw(std::size_t(size), '\0');
  const std::size_t n = ZSTD_decompress(raw.data(), raw.size(), packed.data(), packed.size());
  if (ZSTD_isError(n) != 0 || n != raw.size()) refuse("a block that cannot be unpacked");
  return raw;
}

std::uint32_t zigzag(std::int32_t v) { return (std::uint32_t(v) << 1U) ^ std::uint32_t(v >> 31); }
std::int32_t unzigzag(std::uint32_t v) { return std::int32_t((v >> 1U) ^ (~(v & 1U) + 1U)); }
std::int32_t less(std::int32_t a, std::int32_t b) {
  return std::int32_t(std::uint32_t(a) - std::uint32_t(b));
}
std::int32_t plus(std::int32_t a, std::int32_t b) {
  return std::int32_t(std::uint32_t(a) + std::uint32_t(b));
}

/// Differences as four planes of bytes, the low ones first; the high ones are nearly all zero.
std::string planes(const std::vector<std::uint32_t>& values) {
  std::string out(values.size() * 4, '\0');
  for (std::size_t b = 0; b < 4; ++b)
    for (std::size_t i = 0; i < values.size(); ++i)
      out[b * values.size() + i] = char((values[i] >> (8U * b)) & 0xFFU);
  return out;
}

/// Against the median of the row before it, or against the row before: what a column is taken from.
std::vector<std::int32_t> reference(const std::vector<std::vector<std::int32_t>>& columns,
                                    std::size_t rows) {
  std::vector<std::int32_t> median(rows, 0), row;
  for (std::size_t i = 0; i < rows; ++i) {
    row.clear();
    for (std::size_t c = 2; c < columns.size(); ++c) row.push_back(columns[c][i]);
    if (row.empty()) break;
    const auto middle = row.begin() + std::ptrdiff_t(row.size() / 2);
    std::nth_element(row.begin(), middle, row.end());
    median[i] = *middle;
  }
  return median;
}

std::string encode(const DayRows& r, bool against_median) {
  const std::size_t n = r.time_ms.size();
  std::vector<std::uint32_t> all;
  all.reserve(n * (r.columns.size() + 2));
  const auto in_time = [&](const std::vector<std::int32_t>& v) {
    std::int32_t last = 0;
    for (const std::int32_t x : v) all.push_back(zigzag(less(x, last))), last = x;
  };
  // Steps of the clock are nearly always the same: their differences are zeros.
  std::vector<std::int32_t> steps(n);
  for (std::size_t i = 0; i < n; ++i) steps[i] = less(r.time_ms[i], i > 0 ? r.time_ms[i - 1] : 0);
  in_time(steps);
  const auto median = reference(r.columns, n);
  if (against_median) in_time(median);
  for (std::size_t c = 0; c < r.columns.size(); ++c) {
    if (against_median && c >= 2) {
      std::vector<std::int32_t> off(n);
      for (std::size_t i = 0; i < n; ++i) off[i] = less(r.columns[c][i], median[i]);
      // What a cell stands off by hardly moves: as it is, not its change.
      for (const std::int32_t x : off) all.push_back(zigzag(x));
    } else {
      in_time(r.columns[c]);
    }
  }
  return squeeze(planes(all));
}

}  // namespace

void DayRows::add(const watch::Reading& r) {
  if (columns.empty()) columns.resize(2 + r.cells_V.size());
  const auto whole = [](double v, double step) {
    return std::isfinite(v) && std::abs(v) < 1e8 * step ? std::int32_t(std::lround(v / step))
                                                        : missing;
  };
  time_ms.push_back(std::int32_t(std::lround((r.time_s - double(day) * 86400.0) * 1e3)));
  columns[0].push_back(whole(r.current_A, 0.1));
  columns[1].push_back(whole(r.temperature_C, 0.1));
  for (std::size_t j = 0; j < r.cells_V.size(); ++j)
    columns[2 + j].push_back(whole(double(r.cells_V[j]), 1e-3));
}

std::string pack_rows(const DayRows& r) {
  const std::string a = encode(r, false), b = encode(r, true);
  Writer w;
  w.number(std::uint64_t(r.pack));
  w.put(std::int64_t(r.day));
  w.number(r.time_ms.size());
  w.number(r.columns.size());
  w.put(char(b.size() < a.size()));
  w.text(b.size() < a.size() ? b : a);
  return w.take();
}

DayRows unpack_rows(std::string_view bytes) {
  Reader in(bytes);
  DayRows r;
  r.pack = int(in.number());
  r.day = long(in.get<std::int64_t>());
  const std::size_t n = in.number(), columns = in.number();
  if (n > 10'000'000 || columns > 10'000) refuse("a day of an impossible size");
  const bool against_median = in.get<char>() != 0;
  const std::size_t sequences = 1 + columns + (against_median ? 1 : 0);
  const std::string raw = unsqueeze(in.text(), 4 * n * sequences);
  if (raw.size() != 4 * n * sequences) refuse("a day of another size than it says");
  const std::size_t total = n * sequences;
  std::size_t at = 0;
  const auto next = [&] {
    std::uint32_t v = 0;
    for (std::size_t b = 0; b < 4; ++b)
      v |= std::uint32_t(static_cast<unsigned char>(raw[b * total + at])) << (8U * b);
    ++at;
    return unzigzag(v);
  };
  const auto in_time = [&] {
    std::vector<std::int32_t> v(n);
    std::int32_t last = 0;
    for (std::int32_t& x : v) x = last = plus(last, next());
    return v;
  };
  r.time_ms = in_time();
  for (std::size_t i = 1; i < n; ++i) r.time_ms[i] = plus(r.time_ms[i], r.time_ms[i - 1]);
  const std::vector<std::int32_t> median = against_median ? in_time() : std::vector<std::int32_t>();
  r.columns.resize(columns);
  for (std::size_t c = 0; c < columns; ++c) {
    if (against_median && c >= 2) {
      r.columns[c].resize(n);
      for (std::size_t i = 0; i < n; ++i) r.columns[c][i] = plus(next(), median[i]);
    } else {
      r.columns[c] = in_time();
    }
  }
  return r;
}

std::vector<Bucket> downsample(const DayRows& r) {
  std::vector<Bucket> all;
  for (std::size_t i = 0; i < r.time_ms.size(); ++i) {
    const std::int32_t start = r.time_ms[i] / 600'000 * 600;
    const std::size_t cells = r.columns.size() - 2;
    if (all.empty() || all.back().start_s != start) {
      all.push_back({start, std::vector<std::int16_t>(cells, INT16_MAX),
                     std::vector<std::int16_t>(cells, INT16_MIN)});
    }
    Bucket& b = all.back();
    for (std::size_t c = 0; c < cells; ++c) {
      const std::int32_t v = r.columns[c + 2][i];
      if (v == DayRows::missing) continue;
      b.lowest_mV[c] = std::int16_t(std::min<std::int32_t>(b.lowest_mV[c], v));
      b.highest_mV[c] = std::int16_t(std::max<std::int32_t>(b.highest_mV[c], v));
    }
    if (i + 1 < r.time_ms.size() && r.columns[0][i] != DayRows::missing)
      b.charge_Ah +=
          float(r.columns[0][i] * 0.1 * std::min(600'000, r.time_ms[i + 1] - r.time_ms[i]) / 3.6e6);
    if (r.columns[1][i] != DayRows::missing)
      b.mean_C += (float(r.columns[1][i]) * 0.1F - b.mean_C) / float(b.readings + 1);
    ++b.readings;
  }
  return all;
}

std::string pack_day(const watch::Day& d, int pack) {
  Writer w;
  w.number(std::uint64_t(pack));
  w.number(d.cells.size());
  // The fixed part is plain numbers; its size stands before it, so that a later form can add to it.
  const auto fixed = [&](const auto& v) { w.put(v); };
  fixed(std::int64_t(d.day));
  for (const double v :
       {d.hours,           d.weight,         d.steps,      d.full_top_V,    d.full_current_A,
        d.full_slow_A,     d.full_C,         d.closing_Ah, d.closing_hours, d.charge_u_Ah,
        d.days_since_full, d.out_Ah,         d.in_Ah,      d.out_Wh,        d.in_Wh,
        d.mean_C,          d.lowest_C,       d.highest_C,  d.lowest_charge, d.highest_charge,
        d.hours_at_full,   d.balancing_hours})
    fixed(v);
  fixed(char(d.full));
  fixed(d.normal);
  fixed(d.step_normal);
  for (const watch::CellDay& c : d.cells) fixed(c);
  return squeeze(w.take());
}

KeptDay unpack_day(std::string_view bytes) {
  const std::string raw = unsqueeze(bytes, 1 << 26);
  Reader in(raw);
  KeptDay kept;
  kept.pack = int(in.number());
  const std::size_t cells = in.number();
  if (cells > 10'000) refuse("a day of an impossible size");
  watch::Day& d = kept.day;
  d.day = long(in.get<std::int64_t>());
  for (double* v :
       {&d.hours,           &d.weight,         &d.steps,      &d.full_top_V,    &d.full_current_A,
        &d.full_slow_A,     &d.full_C,         &d.closing_Ah, &d.closing_hours, &d.charge_u_Ah,
        &d.days_since_full, &d.out_Ah,         &d.in_Ah,      &d.out_Wh,        &d.in_Wh,
        &d.mean_C,          &d.lowest_C,       &d.highest_C,  &d.lowest_charge, &d.highest_charge,
        &d.hours_at_full,   &d.balancing_hours})
    *v = in.get<double>();
  d.full = in.get<char>() != 0;
  d.normal = in.get<watch::Triangle>();
  d.step_normal = in.get<watch::Triangle>();
  for (std::size_t j = 0; j < cells; ++j) d.cells.push_back(in.get<watch::CellDay>());
  return kept;
}

// --- the file
// --------------------------------------------------------------------------------------

KeptRecord::KeptRecord(const std::filesystem::path& file) : path_(file) {
  file_ = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
  if (file_ < 0)
    throw base::InputError({file.string(), 0, 0}, std::strerror(errno),
                           "a file that can be written",
                           "choose another place, or mend its rights");
  struct stat info {};
  ::fstat(file_, &info);
  const auto size = std::size_t(info.st_size);
  if (size < sizeof magic) {
    if (::pwrite(file_, magic, sizeof magic, 0) != ssize_t(sizeof magic) || ::fsync(file_) != 0) {
      ::close(file_);
      throw base::InputError({file.string(), 0, 0}, "no room on the disk", "room for a kept record",
                             "make room");
    }
    end_ = sizeof magic;
    return;
  }
  char found[sizeof magic];
  if (::pread(file_, found, sizeof found, 0) != ssize_t(sizeof found) ||
      std::memcmp(found, magic, sizeof magic) != 0) {
    ::close(file_);
    throw base::InputError({file.string(), 1, 0}, "another kind of file",
                           "a kept record of Packhouse", "choose the file that ends in .record");
  }
  end_ = sizeof magic;
  std::string block;
  while (end_ + head_bytes <= size) {
    std::uint32_t head[4];
    if (::pread(file_, head, sizeof head, off_t(end_)) != ssize_t(sizeof head)) break;
    if (head[0] > size - end_ - head_bytes) break;
    block.resize(head[0]);
    if (::pread(file_, block.data(), block.size(), off_t(end_ + head_bytes)) !=
            ssize_t(block.size()) ||
        checksum(block) != head[2] || head[3] != (head[0] ^ head[1] ^ head[2]))
      break;
    end_ += head_bytes + head[0];
  }
  dropped_ = size - end_;
  if (dropped_ > 0 && ::ftruncate(file_, off_t(end_)) != 0) dropped_ = 0;
}

KeptRecord::~KeptRecord() { ::close(file_); }

bool KeptRecord::append(Block kind, std::string_view bytes) {
  const std::uint32_t length = std::uint32_t(bytes.size()), sum = checksum(bytes),
                      which = std::uint32_t(kind);
  const std::uint32_t head[4] = {length, which, sum, length ^ which ^ sum};
  std::string block(reinterpret_cast<const char*>(head), sizeof head);
  block += bytes;
  std::size_t done = 0;
  while (done < block.size()) {
    const ssize_t n = ::pwrite(file_, block.data() + done, block.size() - done, off_t(end_ + done));
    if (n <= 0) break;
    done += std::size_t(n);
  }
  if (done != block.size() || ::fdatasync(file_) != 0) {
    (void)!::ftruncate(file_, off_t(end_));
    return false;
  }
  end_ += block.size();
  return true;
}

std::vector<std::string> KeptRecord::blocks(Block kind) const {
  std::vector<std::string> found;
  std::size_t at = sizeof magic;
  while (at + head_bytes <= end_) {
    std::uint32_t head[4];
    if (::pread(file_, head, sizeof head, off_t(at)) != ssize_t(sizeof head)) break;
    if (head[1] == std::uint32_t(kind)) {
      found.emplace_back(head[0], '\0');
      if (::pread(file_, found.back().data(), head[0], off_t(at + head_bytes)) !=
          ssize_t(head[0])) {
        found.pop_back();
        break;
      }
    }
    at += head_bytes + head[0];
  }
  return found;
}

}  // namespace feed
