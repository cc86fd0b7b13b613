# The few commands of the house. make quick while you work, make test before
# you hand over; .ci/run is make test on a fresh machine.
#
# Tests come at two speeds. Those without a build tag take less than two
# minutes together. Those that need a browser, kill processes, make the disk
# fail or run long stand in files with
#
#	//go:build slow
#
# at the top, and only make test and make bench set that tag. No test skips
# itself: what is missing for it, make deps installs, or the test fails. The
# two programs that fast tests compare with, make quick installs by itself.

# A copy without its history, or in the hands of another user, builds too.
export GOFLAGS += -buildvcs=false

BIN         := .build/bin
GOLANGCI    := $(BIN)/golangci-lint
STATICCHECK := $(BIN)/staticcheck

.PHONY: help
help:
	@echo 'make quick   build, vet and the fast tests: under two minutes'
	@echo 'make test    everything: deps, lint, all tests, builds for the phones'
	@echo 'make lint    formatting, vet, staticcheck, golangci-lint with the layers'
	@echo 'make cross   builds for linux, android and ios on arm64'
	@echo 'make aar     the library for Android: .build/android/mobile.aar'
	@echo 'make xcframework   the library for iOS: .build/ios/Mobile.xcframework'
	@echo 'make bench   benchmarks; they gate nothing'
	@echo 'make deps    installs what the tests need and this machine lacks'
	@echo 'make clean   removes what make built and fetched'

.PHONY: quick
quick:
	@.ci/deps quick
	go build ./...
	go vet ./...
	go test ./...

.PHONY: test
test: deps lint
	go test -tags slow -timeout 60m ./...
	@$(MAKE) --no-print-directory cross

.PHONY: deps
deps:
	@.ci/deps

# The linters are pinned in a module of their own, so that what they need never
# mixes with what Chinlift needs, and are built once for each change of it.
$(GOLANGCI) $(STATICCHECK) &: .ci/tools/go.mod .ci/tools/go.sum
	@mkdir -p $(BIN)
	@echo 'building the linters; the first time takes some minutes'
	go build -C .ci/tools -o ../../$(BIN)/ \
		github.com/golangci/golangci-lint/v2/cmd/golangci-lint \
		honnef.co/go/tools/cmd/staticcheck
	@touch $(GOLANGCI) $(STATICCHECK)

.PHONY: lint
lint: $(GOLANGCI) $(STATICCHECK)
	@unformatted=$$(gofmt -l $(wildcard core sync mobile) .ci/tools); \
	if [ -n "$$unformatted" ]; then echo "not formatted by gofmt:"; echo "$$unformatted"; exit 1; fi
	go vet ./...
	go vet -tags slow ./...
	$(STATICCHECK) -tags slow ./...
	$(GOLANGCI) run --allow-parallel-runners ./...
	go test -C .ci/tools -count=1 ./layers

# An ios program cannot be linked without that system's own linker, so there
# only the packages are compiled that the shell's library is made of.
.PHONY: cross
cross:
	CGO_ENABLED=0 GOOS=linux GOARCH=arm64 go build ./...
	CGO_ENABLED=0 GOOS=android GOARCH=arm64 go build -trimpath ./...
	CGO_ENABLED=0 GOOS=ios GOARCH=arm64 go build $$(go list -f '{{if ne .Name "main"}}{{.ImportPath}}{{end}}' ./...)

# The libraries of the phones' shells. What they need besides is told when it is
# missing: Android's NDK, Apple's Xcode.
.PHONY: aar
aar:
	@.ci/bind android

.PHONY: xcframework
xcframework:
	@.ci/bind ios

# Which of them, and how long each: make bench BENCH=EventsCSV/100000 BENCHTIME=1x.
# The time that go test allows by itself, ten minutes, is too short for the large.
BENCH     ?= .
BENCHTIME ?= 1s

.PHONY: bench
bench:
	@packages=$$(grep -rl --include='*_test.go' '^func Benchmark' core sync mobile 2>/dev/null | xargs -r -n1 dirname | sort -u | sed 's|^|./|'); \
	if [ -z "$$packages" ]; then echo 'there are no benchmarks yet'; exit 0; fi; \
	set -x; go test -tags slow -timeout 4h -run '^$$' -bench '$(BENCH)' -benchtime $(BENCHTIME) -benchmem $$packages

.PHONY: clean
clean:
	rm -rf .build
