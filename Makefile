# The contributor's table: `make help`. Everything here works on a bare Debian 12 with only Go, git and make;
# deploy/need.sh installs the rest and says so.

GO       ?= go
PKG      ?= ./...
# One private Postgres for a whole run.
WITHPG    = $(GO) run ./internal/pgtest/cmd/withpg
# Time for each fuzz target.
FUZZTIME ?= 10s
BENCH    ?= .
GENERATED = api/api.gen.go api/client/client.gen.go

.DEFAULT_GOAL := help
.PHONY: help build demo test check generate verify lint fuzz bench cover new-migration golden

help: ## Show this table
	@awk 'BEGIN {FS = ":.*## "} /^[a-z-]+:.*## / {printf "%-14s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

build: ## Build bin/midden
	@mkdir -p bin
	$(GO) build -o bin/midden ./cmd/midden

demo: ## Try Midden: an invented garden on a private Postgres
	@deploy/need.sh postgres
	@$(MAKE) --no-print-directory build
	@exec bin/midden demo

test: ## Run every test, with the race detector, on one private Postgres (PKG=./internal/… for a part)
	@deploy/need.sh test-postgres gcc
	CGO_ENABLED=1 $(WITHPG) $(GO) test -race -shuffle=on $(PKG)

check: verify lint test ## All that CI asks: verify, lint, test

generate: ## Generate api/ from openapi/openapi.yaml
	$(GO) generate ./api/...

verify: ## Fail when generated code, go.mod or an import arrow is off
	@mkdir -p bin
	@rm -rf bin/before && mkdir -p bin/before && for f in $(GENERATED); do cp $$f bin/before/$$(basename $$f).txt; done
	$(GO) generate ./api/...
	@for f in $(GENERATED); do cmp $$f bin/before/$$(basename $$f).txt || \
		{ echo "$$f was out of date; it is generated anew: commit it" >&2; exit 1; }; done
	$(GO) mod tidy -diff
	$(GO) test -count=1 ./internal/archtest

lint: ## Check format, vet, staticcheck and the contract
	@files=$$(gofmt -l .); test -z "$$files" || { echo "not formatted:"; echo "$$files"; echo "run gofmt -w on them"; exit 1; } >&2
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) test -count=1 -run Contract ./internal/httpapi

fuzz: ## Fuzz every target for FUZZTIME (10s) each
	@grep -r --include='*_test.go' -o '^func Fuzz[A-Za-z0-9_]*' cmd internal api openapi migrations | sort | while IFS=: read -r file func; do \
		echo "== $$(dirname $$file) $${func#func }"; \
		$(GO) test -run='^$$' -fuzz="^$${func#func }\$$" -fuzztime=$(FUZZTIME) "./$$(dirname $$file)" </dev/null || exit 1; \
	done

bench: build ## Measure intake and reads side by side with pgbench and a bare handler, then run the benchmarks
	@deploy/need.sh test-postgres
	@$(GO) build -o bin/bench ./internal/bench
	$(WITHPG) bin/bench -midden bin/midden $(BENCHFLAGS)
	$(WITHPG) $(GO) test -run='^$$' -bench='$(BENCH)' -benchmem $(PKG)

cover: ## Measure what the tests reach; writes bin/cover.html
	@deploy/need.sh test-postgres
	@mkdir -p bin
	$(WITHPG) $(GO) test -coverpkg=./internal/...,./cmd/...,./migrations/... -coverprofile=bin/cover.out $(PKG)
	@$(GO) tool cover -html=bin/cover.out -o bin/cover.html
	@$(GO) tool cover -func=bin/cover.out | tail -1

new-migration: ## Make the two files of the next schema change (NAME=what_it_does)
	@case '$(NAME)' in ''|*[!a-z0-9_]*) echo 'give it a name of lower-case words: make new-migration NAME=harvests' >&2; exit 2;; esac
	@last=$$(ls migrations/*.up.sql | sed 's|.*/0*\([0-9]*\)_.*|\1|' | sort -n | tail -1); \
		next=$$(printf 'migrations/%04d_$(NAME)' $$((last + 1))); \
		echo '-- Why, in a sentence or two. One change a file; the code must work one step behind.' > $$next.up.sql; \
		echo '-- Takes back what the other file made, in the opposite order.' > $$next.down.sql; \
		echo "$$next.up.sql"; echo "$$next.down.sql"

golden: ## Refresh the golden files; read the difference before you commit it
	@deploy/need.sh test-postgres
	@packages=$$(grep -rl --include='*_test.go' 'flag.Bool("update"' cmd internal api openapi | xargs -r -n1 dirname | sort -u | sed 's|^|./|'); \
		if test -z "$$packages"; then echo 'no package keeps golden files'; else $(WITHPG) $(GO) test -count=1 $$packages -update; fi
	@git --no-pager diff --stat -- '*testdata*'
