# Two commands do all: `make run` and `make test`. Each sets up what is missing (packages.txt), then builds.
.PHONY: faults fuzz run open test judge build docs web web-test web-test-debian sanitize format format-check headers perf fresh bench clean
.DEFAULT_GOAL := build

# Build in `build/`: leaves the command at build/packhouse.
build:
	@tools/setup core
	@tools/build release

# The invented smallholding from loose cells to the printed book.
run:
	@echo "Packhouse: installs what is missing of packages.txt, builds (about six minutes on two cores the first time),"
	@echo "then works the whole job on an invented bank (some seconds) and leaves the book in demo/."
	@tools/setup core
	@tools/build release
	@build/packhouse demo demo

# The same as a page in the browser.
open: build
	@test -f demo/smallholding.packhouse || build/packhouse demo demo >/dev/null
	@build/packhouse serve demo/smallholding.packhouse

# Every test, warnings as errors; the last line says what passed and what was skipped.
test:
	@echo "Packhouse: installs what is missing, builds with every test (about ten minutes on two cores the first time), runs them."
	@tools/setup test
	@tools/setup web
	@tools/test

# The whole corpora of awkward logs, the whole coverages and the watch on invented banks, with their counts; an hour and more (a sampled edition runs in `make test`).
judge:
	@tools/setup test
	@tools/build test judge_logs_tests
	@JUDGE=whole build-test/judge_logs_tests
	@tools/build test watch_judge
	@build-test/watch_judge --runs 100 --healthy 120

# The page: types from the API's description, checked, bundled into web/dist (committed; a C++ build needs no Node).
web:
	@tools/setup web
	@cd web && npm run -s types && npm run -s check && npm run -s build

# The pages of docs/ that are written from the catalogues.
docs:
	@tools/setup test
	@tools/build test laws_tests
	@PACKHOUSE_WRITE_DOCS=1 build-test/laws_tests --gtest_filter='Docs.*' --gtest_brief=1

# The page's tests alone.
web-test:
	@tools/setup test
	@tools/setup web
	@tools/build test packhouse
	@tools/web-test

# The page's logic and API with Debian's own Node, where it stands beside another; `make fresh` runs everything with it.
web-test-debian:
	@if [ "$$(/usr/bin/node --version 2>/dev/null | cut -c1-4)" = v18. ]; then cd web && PATH="/usr/bin:$$PATH" PACKHOUSE=$(CURDIR)/build-test/packhouse sh -c \
	  'echo "The page with Node $$(node --version)"; npx vitest run src tests/api.test.ts tests/engines.test.ts'; \
	else echo "Debian's own Node is not here: its run is skipped (make fresh has it)"; fi

# The same C++ tests under the address and undefined-behaviour sanitizers.
sanitize:
	@tools/setup test
	@tools/build sanitize
	@ctest --preset sanitize

# Each header compiles by itself.
headers:
	@tools/setup test
	@test -f build-test/build.ninja || cmake --preset test >/dev/null
	@cmake -DCMAKE_VERIFY_INTERFACE_HEADER_SETS=ON build-test >/dev/null
	@cmake --build build-test --target all_verify_interface_header_sets

# Everything in perf/ compiles.
perf:
	@tools/setup test
	@tools/build test perf

# Both of the README's commands on a bare Debian 12 in a temporary folder; needs root and debootstrap.
fresh:
	@tools/fresh

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
