# Two commands: "make run" and "make test". Both install what is missing first.
# "make help" lists the rest.

GO ?= $(shell command -v go || echo /usr/local/go/bin/go)
export GO

# The same flags everywhere: a package compiled for one target is then in the
# build cache for all of them, and Fyne, which takes minutes, is compiled once.
# buildvcs=false: a clone owned by somebody else must build as well.
TAGS = migrated_fynedo,no_emoji
FLAGS = -trimpath -buildvcs=false -tags=$(TAGS)
ifeq (,$(findstring $(FLAGS),$(GOFLAGS)))
override GOFLAGS := $(strip $(GOFLAGS) $(FLAGS))
endif
export GOFLAGS

STATICCHECK = honnef.co/go/tools/cmd/staticcheck@v0.8.2

# What works without a window, a display or cgo. All else needs the toolkit.
PLAIN = ./analysis/... ./assets/... ./cmd/mkscene/... ./cmd/truth/... ./cmd/siege/... ./cmd/release/... ./cmd/stopladder-measure/...
WINDOW = ./ui/... ./cmd/stopladder/... ./cmd/gallery/...

ARGS ?=
DIR ?=
TREE ?= .
FUZZTIME ?= 30s
TIMEOUT ?= 20m
TIME ?= 10m
TALLY ?=
ROOT ?=
STEPS ?= 20000
SEED ?= 1

.PHONY: run test build help test-plain test-all test-window format check tidy vet staticcheck guard map shots draw race fuzz bench truth siege monkey release wine release-try cross golden known demo clean

## run: install what is missing, build, open the window (ARGS="PATH..." opens scans)
run:
	@.ci/install-missing run
	@$(MAKE) --no-print-directory build
	bin/stopladder $(ARGS)

## test: install what is missing and run all tests, the real window included
test:
	@.ci/install-missing test
	@$(MAKE) --no-print-directory test-all
	CGO_ENABLED=0 .ci/fuzz 2s $(PLAIN)
	@$(MAKE) --no-print-directory test-window

## test-plain: the tests that need neither display nor C compiler, without the long ones: for while you work
test-plain:
	CGO_ENABLED=0 .ci/test -short -timeout $(TIMEOUT) $(PLAIN)

## test-all: the same with the long ones (rolls by the dozen, bombs, a browser), as "make test" and CI run them
test-all:
	CGO_ENABLED=0 .ci/test -timeout $(TIMEOUT) $(PLAIN)

test-window:
	CGO_ENABLED=1 .ci/test -timeout $(TIMEOUT) $(WINDOW)

## build: bin/stopladder and bin/stopladder-measure
build:
	CGO_ENABLED=0 $(GO) build -o bin/ ./cmd/stopladder-measure
	CGO_ENABLED=1 $(GO) build -o bin/ ./cmd/stopladder

## check: gofmt, go mod tidy, import guard, go vet, staticcheck
check: format tidy guard vet staticcheck

tidy:
	$(GO) mod tidy -diff

format:
	@files=$$("$$($(GO) env GOROOT)/bin/gofmt" -l cmd ui analysis assets) || exit 1; \
	if [ -n "$$files" ]; then echo "not formatted (run gofmt -w on them):"; echo "$$files"; exit 1; fi

vet:
	CGO_ENABLED=1 $(GO) vet ./...

staticcheck:
	CGO_ENABLED=1 $(GO) run $(STATICCHECK) ./...

guard:
	CGO_ENABLED=0 $(GO) test -count=1 -run '^TestGuard' ./analysis

## shots: pictures of the main screens of the real window, into DIR (bin/shots), and small ones into the manual: look at them before you commit them
shots:
	STOPLADDER_SHOTS=$(abspath $(or $(DIR),bin/shots)) CGO_ENABLED=1 $(GO) test -count=1 -run '^TestShots$$' ./cmd/stopladder
	for f in $(or $(DIR),bin/shots)/*.jpg; do if [ -f assets/manual/pictures/$$(basename $$f) ]; then cp $$f assets/manual/pictures/; fi; done

## map: write the imports in DEVELOPERS.md's map anew
map:
	CGO_ENABLED=0 $(GO) test -count=1 -run '^TestGuardMap$$' ./analysis -map

## draw: the rooms of analysis and the arrows between them (TREE= another tree)
draw:
	@CGO_ENABLED=0 $(GO) test -count=1 -v -run '^TestDrawing$$' ./analysis -tree "$(abspath $(TREE))"

## race: all tests under the race detector (slow)
race:
	@.ci/install-missing test
	CGO_ENABLED=1 .ci/test -race -timeout 60m ./...

## fuzz: every fuzz target, FUZZTIME=30s each
fuzz:
	CGO_ENABLED=0 .ci/fuzz $(FUZZTIME) $(PLAIN)

## bench: benchmarks of everything that works without a window
bench:
	CGO_ENABLED=0 $(GO) test -run '^$$' -bench . -benchmem $(PLAIN)

## truth: hold every reading against brackets of another making (minutes; ARGS="--only dust", --strict, --detail FILE)
truth:
	CGO_ENABLED=0 $(GO) run ./cmd/truth $(ARGS)

## siege: kill writers, fill disks, swap and damage files, count what was tried (TIME=10m; ARGS="--only mutations", --seed, --keep DIR; TALLY=FILE adds the counts to it); with make build before, the window is killed too
siege:
	CGO_ENABLED=0 $(GO) build -o bin/siege ./cmd/siege
	bin/siege --time $(TIME) $(if $(wildcard bin/stopladder),--window bin/stopladder) $(if $(TALLY),--tally $(TALLY)) $(ARGS)

## monkey: drive the window at random under the race detector, an hour or so (STEPS=20000, SEED=1), and open and close a hundred rolls
monkey:
	CGO_ENABLED=1 STOPLADDER_MONKEY=$(STEPS) STOPLADDER_SEED=$(SEED) STOPLADDER_ROLLS=100 $(GO) test -race -count=1 -timeout 4h -v -run 'TestMonkey|TestClosedRollsAreLetGo' ./ui

## release: archives, a Debian package, the window for Windows, notices, bill of materials and checksums of what is committed, into DIR (bin/release); minutes (ARGS="--for linux" or --no-window)
release:
	@.ci/install-missing release
	$(GO) run ./cmd/release $(ARGS) $(or $(DIR),bin/release)

## wine: what can be tried of the programs for Windows under Wine: the same bytes as here, the tests, the window looked at (pictures in bin/wine); many minutes
wine:
	@.ci/install-missing wine
	.ci/wine --window $(or $(DIR),bin/wine)

## release-try: lintian, then the Debian package in a bare system: installed, measured with, opened by a roll's type, removed (ROOT=DIR keeps that system for the next time)
release-try:
	@.ci/install-missing try
	$(GO) run ./cmd/release --for linux $(or $(DIR),bin/release)
	ROOT=$(ROOT) .ci/try-package $(or $(DIR),bin/release)/stopladder_*_$$($(GO) env GOARCH).deb bin/release-try

## cross: vet everything that works without a window for Windows and macOS, both processors
cross:
	for t in windows/amd64 windows/arm64 darwin/amd64 darwin/arm64; do \
	  echo "go vet for $$t"; GOOS=$${t%/*} GOARCH=$${t#*/} CGO_ENABLED=0 $(GO) vet ./analysis/... ./assets/... ./ui/session/... ./ui/history/... ./cmd/stopladder-measure ./cmd/release || exit 1; done

## golden: draw the golden pictures anew (look at them before you commit them)
golden:
	CGO_ENABLED=0 $(GO) test -count=1 $$(grep -rl --include='*_test.go' 'flag.Bool("update"' analysis ui | xargs -n 1 dirname | sort -u | sed 's|^|./|') -update

## known: write testdata's rolls and hostile files anew (see testdata/README.md)
known:
	CGO_ENABLED=0 $(GO) test -count=1 -run '^TestKnownIsMade$$' ./analysis/headless -known

## demo: write the demo roll as TIFF files into DIR=
demo:
	@if [ -z "$(DIR)" ]; then echo "say where: make demo DIR=/path/to/folder" >&2; exit 2; fi
	CGO_ENABLED=0 $(GO) run ./cmd/stopladder-measure demo "$(DIR)"

clean:
	rm -rf bin

help:
	@sed -n 's/^## //p' $(MAKEFILE_LIST)
