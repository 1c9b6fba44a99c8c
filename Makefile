# Two commands do all: `make run` and `make test`. Each sets up what is missing (packages.txt), then builds.
.PHONY: run test build sanitize format format-check headers bench clean
.DEFAULT_GOAL := build

# Build in `build/`: leaves the command at build/packhouse.
build:
	@tools/setup core
	@test -f build/build.ninja || cmake --preset release >/dev/null
	@cmake --build build

# The invented smallholding from loose cells to the printed book.
run: build
	@build/packhouse demo demo

# Every test, warnings as errors.
test:
	@tools/setup test
	@test -f build-test/build.ninja || cmake --preset test >/dev/null
	@cmake --build build-test
	@ctest --preset test

# The same tests under the address and undefined-behaviour sanitizers.
sanitize:
	@tools/setup test
	@test -f build-sanitize/build.ninja || cmake --preset sanitize >/dev/null
	@cmake --build build-sanitize
	@ctest --preset sanitize

# Each header compiles by itself.
headers:
	@tools/setup test
	@test -f build-test/build.ninja || cmake --preset test >/dev/null
	@cmake -DCMAKE_VERIFY_INTERFACE_HEADER_SETS=ON build-test >/dev/null
	@cmake --build build-test --target all_verify_interface_header_sets

FORMATTED = $(shell find src tests perf -name '*.cpp' -o -name '*.hpp')
format:
	@clang-format -i $(FORMATTED)
format-check:
	@tools/setup test
	@clang-format --dry-run -Werror $(FORMATTED)

# Speed, as ratios against a named reference (perf/README.md).
bench: build
	@perf/bench_log

clean:
	rm -rf build build-test build-debug build-sanitize demo
