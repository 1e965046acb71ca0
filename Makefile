# What each target does: make help
SHELL := /bin/bash
TOOLS := $(CURDIR)/.tools
PYTHON := $(TOOLS)/python/bin/python
STATICCHECK := $(TOOLS)/bin/staticcheck
MODULES := $(TOOLS)/node/node_modules
STATICCHECK_VERSION := v0.8.2
SBOM := $(TOOLS)/bin/cyclonedx-gomod
VULNCHECK := $(TOOLS)/bin/govulncheck

.PHONY: help build test test-go notebooks tools vet lint race fuzz bench bench-peers bench-engine dist vuln clean

help: ## list the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:[^#]*## /\t/' | expand -t 12

build: ## build ./lengthwise
	go build -trimpath -o lengthwise ./cmd/lengthwise

test: tools vet lint test-go ## install what the tests need, then run all of them

test-go: ## all tests, with what `make tools` installed
	LENGTHWISE_PYTHON=$(PYTHON) LENGTHWISE_KEEP_NOTEBOOKS=$(CURDIR)/notebooks-html LENGTHWISE_NODE_MODULES="$$(ls -d $(MODULES) 2>/dev/null || true)" \
	  LENGTHWISE_CHROMIUM="$$(command -v chromium || command -v chromium-browser || true)" \
	  go test ./...

notebooks: $(PYTHON) ## execute the notebooks on the demo study, and keep them as HTML in notebooks-html
	LENGTHWISE_PYTHON=$(PYTHON) LENGTHWISE_KEEP_NOTEBOOKS=$(CURDIR)/notebooks-html \
	  go test ./cmd/lengthwise -run TestHandedOn/notebooks -count=1 -v

tools: $(PYTHON) $(STATICCHECK) $(MODULES) ## what the tests need beside Go, pinned, into .tools
	@testdata/tools/system-packages.sh

$(PYTHON): testdata/tools/requirements.txt
	rm -rf $(TOOLS)/python
	python3 -m venv $(TOOLS)/python
	$(PYTHON) -m pip install --quiet --disable-pip-version-check -r testdata/tools/requirements.txt
	touch $(PYTHON)

$(MODULES): testdata/tools/package.json
	@mkdir -p $(TOOLS)/node && cp $< $(TOOLS)/node/
	@if command -v npm >/dev/null; then npm install --silent --no-audit --no-fund --prefix $(TOOLS)/node && touch $@; \
	  else echo "npm is not here: tests that read our tables with JavaScript are skipped"; fi

$(STATICCHECK):
	GOBIN=$(TOOLS)/bin go install honnef.co/go/tools/cmd/staticcheck@$(STATICCHECK_VERSION)

vet: ## go vet and gofmt
	go vet ./...
	@out=$$(gofmt -l $$(git ls-files '*.go')); if [ -n "$$out" ]; then echo "not gofmt'd: $$out"; exit 1; fi

lint: $(STATICCHECK) ## staticcheck
	$(STATICCHECK) ./...

race: ## all tests under the race detector (ten minutes and more)
	go test -race ./...

fuzz: ## every fuzz target for FUZZTIME (30s) each
	@FUZZTIME=$${FUZZTIME:-30s} testdata/tools/fuzz.sh

bench: ## every benchmark once, with allocations
	go test -run '^$$' -bench . -benchmem ./...

bench-peers: ## CPU seconds of the statistics against R (lme4, lmerTest, boot): testdata/bench/peers.md
	testdata/bench/peers.sh

bench-engine: $(PYTHON) ## the engine on 10,000 files, 10 million lengths and 1,000 swimmers, beside decoders, DuckDB and polars: testdata/bench/engine.md
	LENGTHWISE_PYTHON=$(PYTHON) testdata/bench/engine.sh

$(SBOM):
	GOBIN=$(TOOLS)/bin go install github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod@v1.10.0

$(VULNCHECK):
	GOBIN=$(TOOLS)/bin go install golang.org/x/vuln/cmd/govulncheck@v1.9.0

dist: $(SBOM) ## binaries for the common platforms, built twice and compared, with their bill of materials, licences and hashes
	SBOM=$(SBOM) testdata/tools/dist.sh dist

vuln: $(VULNCHECK) ## known vulnerabilities in what the program calls; a release step (it asks vuln.go.dev)
	$(VULNCHECK) ./...

clean: ## what was built and installed here
	rm -rf lengthwise dist notebooks-html $(TOOLS)
