# make demo and make test are all a newcomer needs; each installs what it
# lacks. The other targets are for work on the program. At a terminal, make
# demo goes on to serve the invented shop's pages until Ctrl-C; without one, as
# in CI, it ends.

export CGO_ENABLED = 0
GO ?= go
BIN := bin/plumbstride
DEMO ?= demo

# Versions of the tools of `make lint`.
GOLANGCI := github.com/golangci/golangci-lint/v2/cmd/golangci-lint@v2.15.0
BENCHTIME ?= 1s
BENCHCOUNT ?= 6

.PHONY: help demo test build setup check-format vet cross unit lint bench fuzz golden studies clean

help:
	@echo 'make demo    check a clip of an invented runner, fill an invented shop in ./$(DEMO), and serve its pages'
	@echo 'make test    every check that a change must pass'
	@echo 'make build   $(BIN)'
	@echo 'make bench   benchmarks, ready for benchstat'
	@echo 'make lint    the linters (slow the first time)'
	@echo 'make fuzz    every fuzz target for FUZZTIME=30s'
	@echo 'make golden  write the golden files and generated documents anew'
	@echo 'make studies measure the core again: docs/studies (an hour)'

demo:
	@tools/need.sh demo
	@$(MAKE) --no-print-directory build setup
	@if [ -t 0 ] && [ -t 1 ] && [ -z "$$CI" ]; then $(BIN) demo --out $(DEMO) --shop $(DEMO)/shop --serve; else $(BIN) demo --out $(DEMO) --shop $(DEMO)/shop; fi

build:
	@$(GO) build -trimpath -o $(BIN) ./cmd/plumbstride

# Fetches, verifies and converts the networks once, into the user's cache.
setup: build
	@$(BIN) setup

test:
	@tools/need.sh test
	@$(MAKE) --no-print-directory build check-format vet cross setup unit

check-format:
	@out=$$(gofmt -l .); [ -z "$$out" ] || { echo "gofmt would change: $$out"; exit 1; }

vet:
	$(GO) vet ./...

# Builds only: nothing of another system can be run here.
cross:
	GOOS=windows GOARCH=amd64 $(GO) build -o /dev/null ./cmd/plumbstride
	GOOS=darwin GOARCH=arm64 $(GO) build -o /dev/null ./cmd/plumbstride

unit:
	$(GO) test -timeout 40m ./...

lint: check-format vet
	$(GO) run $(GOLANGCI) run ./...

bench:
	@tools/need.sh test
	@$(MAKE) --no-print-directory build setup
	$(GO) test -run '^$$' -bench . -benchmem -benchtime $(BENCHTIME) -count $(BENCHCOUNT) -timeout 60m ./...

FUZZTIME ?= 30s
fuzz:
	@for pkg in $$($(GO) list ./...); do \
	  for f in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz' || true); do \
	    echo "$$pkg $$f"; $(GO) test -run '^$$' -fuzz "^$$f\$$" -fuzztime $(FUZZTIME) $$pkg || exit 1; \
	  done; \
	done

golden:
	$(GO) test $$(grep -rl 'flag.Bool("update"' --include='*_test.go' internal | xargs -n1 dirname | sort -u | sed 's|^|./|') -update

# The studies of the measuring core, with their graphs: docs/studies.
studies:
	$(GO) test -timeout 90m ./internal/signal ./internal/gait ./internal/measure ./internal/recheck ./internal/clinic -run 'Study|Coverage' -study

clean:
	rm -rf bin $(DEMO)
