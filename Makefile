# Two commands do all: `make run` and `make test`. Each sets up what is missing (packages.txt), then builds.
.PHONY: faults fuzz run open test build web web-test sanitize format format-check headers bench clean
.DEFAULT_GOAL := build

# Build in `build/`: leaves the command at build/packhouse.
build:
	@tools/setup core
	@test -f build/build.ninja || cmake --preset release >/dev/null
	@cmake --build build

# The invented smallholding from loose cells to the printed book.
run: build
	@build/packhouse demo demo

# The same as a page in the browser.
open: build
	@test -f demo/smallholding.packhouse || build/packhouse demo demo >/dev/null
	@build/packhouse serve demo/smallholding.packhouse

# Every test, warnings as errors.
test:
	@tools/setup test
	@tools/setup web
	@test -f build-test/build.ninja || cmake --preset test >/dev/null
	@cmake --build build-test
	@ctest --preset test
	@$(MAKE) --no-print-directory web-test

# The page: types from the API's description, checked, bundled into web/dist (committed; a C++ build needs no Node).
web:
	@tools/setup web
	@cd web && npm run -s types && npm run -s check && npm run -s build

# The page's tests: types and bundle are those that the sources give; logic; the real program in a real browser.
web-test:
	@tools/setup web
	@web/check-made
	@cd web && npm run -s check
	@cd web && PACKHOUSE=$(CURDIR)/build-test/packhouse npm run -s test

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

# Every fault, every power cut, a thousand kills (an hour or two); `make test` tries a sample of them.
faults:
	@tools/setup test
	@test -f build-test/build.ninja || cmake --preset test >/dev/null
	@cmake --build build-test --target fault_tests
	@PACKHOUSE_FAULTS=whole build-test/fault_tests

# Every reader of foreign bytes under libFuzzer and sanitizers, SECONDS each (tools/fuzz). A find is kept in build-fuzz/finds;
# once mended, its input goes to tests/files/fuzz, where the ordinary tests try it for ever.
SECONDS = 300
fuzz:
	@tools/setup test
	@tools/setup fuzz
	@test -f build-fuzz/build.ninja || cmake --preset fuzz >/dev/null
	@cmake --build build-fuzz --target fuzzer
	@tools/fuzz $(SECONDS)

# Speed, as ratios against a named reference (perf/README.md).
bench: build
	@perf/bench_log

clean:
	rm -rf build build-test build-debug build-sanitize build-fuzz demo web/node_modules web/shots
