# make build   the program, ./greige
# make install the program and its manual pages, under PREFIX (/usr/local)
# make demo    build it, make the demo scene's photos, measure them, write the report
# make test    everything that must hold: formatting, vet, staticcheck, all tests
# make test-browser  the page in headless Chromium (Debian: chromium and poppler-utils)
# make pictures      the README's pictures, out of the demo's page (the same)
# make bench   accuracy on scenes with known truth, and speed as ratios
# make bench-real PHOTOS=DIR   accuracy on real photos (testdata/real/README.md)
# make dist    the program for other people's machines, with checksums; for Windows
#              and macOS also what is started by a double click

# HEIC photos are always decoded by the module's own decoder (WebAssembly, no
# C): with its tag nodynamic a library that happens to be installed is not used.
export GOFLAGS := $(GOFLAGS) -tags=nodynamic

GO      ?= go
VERSION ?= $(shell git describe --tags --always --dirty 2>/dev/null || echo dev)
LDFLAGS := -s -w -X main.release=$(VERSION)
TARGETS := linux/amd64 linux/arm64 darwin/amd64 darwin/arm64 windows/amd64 windows/arm64

.PHONY: build install demo test test-browser pictures lint bench bench-real dist clean

build:
	CGO_ENABLED=0 $(GO) build -trimpath -ldflags '$(LDFLAGS)' -o greige ./cmd/greige

PREFIX ?= /usr/local

install: build
	mkdir -p $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/share/man/man1
	cp greige $(DESTDIR)$(PREFIX)/bin/greige
	./greige man $(DESTDIR)$(PREFIX)/share/man/man1

demo: build
	./greige demo demo

test: lint
	$(GO) test ./...

# The pages in headless Chromium, and the working page in Firefox too (Debian:
# firefox-esr), which puppeteer-core out of the npm registry drives. Where Firefox, npm
# or the registry is not there, that test is left out, and the last line says so; where
# they are, it has to pass. RUN picks tests.
RUN ?= ^TestBrowser

test-browser:
	$(GO) vet -tags=nodynamic,browser ./report/...
	$(GO) tool staticcheck -tags=nodynamic,browser ./report/...
	@set -e; left=; node=$$(mktemp -d); trap 'rm -rf "$$node"' EXIT; \
	if ! command -v firefox-esr >/dev/null; then left="firefox-esr is not installed"; \
	elif ! command -v npm >/dev/null; then left="npm is not installed"; \
	elif ! npm ping --silent --fetch-retries=0 --fetch-timeout=20000 >/dev/null 2>&1; then left="the npm registry cannot be reached"; \
	else npm install --silent --no-fund --no-audit --prefix "$$node" puppeteer-core >/dev/null; export GREIGE_NODE="$$node"; fi; \
	$(GO) test -tags=nodynamic,browser -run '$(RUN)' ./report ./report/open; \
	if [ -n "$$left" ]; then echo "left out: the working page in Firefox (TestBrowserFirefox), because $$left"; fi

pictures: demo
	GREIGE_DEMO=$(CURDIR)/demo/greige-demo.html GREIGE_PICTURES=$(CURDIR)/testdata/readme \
		$(GO) test -tags=nodynamic,browser -count=1 -run TestBrowserPicturesOfTheReadme ./report

lint:
	@unformatted=$$(gofmt -l analyze cmd colorspace report); \
	if [ -n "$$unformatted" ]; then echo "gofmt would change:"; echo "$$unformatted"; exit 1; fi
	$(GO) vet ./...
	$(GO) tool staticcheck ./...

# How many scenes of each kind, and the most photos for the memory: more are
# slower and tell more.
SCENES ?= 24
MOST   ?= 100
BENCH   = $(GO) test -run '^$$' -benchtime 1x -timeout 0

bench:
	@echo "== the three jobs, from the photo to the figure, on scenes with known truth"
	$(BENCH) -bench Accuracy ./analyze -scenes $(SCENES)
	@echo "== room by room, beside OpenCV and scikit-image where they are installed"
	$(BENCH) -bench 'Accuracy|HoldOut|OneBlock|Inks' ./analyze/light ./analyze/scraps ./analyze/grid ./analyze/layout ./analyze/cloth
	@echo "== speed, as ratios to decoding the same photos alone, and memory"
	$(BENCH) -bench 'Speed|Memory' ./cmd/greige -photos $(MOST)
	$(BENCH) -bench Speed ./report/open
	@echo "== the inner loops, with what they allocate"
	$(GO) test -run '^$$' -benchmem -timeout 0 -bench 'Row|Reduce|New$$|Measure|Spread|Largest|Choose|FortyByForty|TwoHundredScraps' ./colorspace ./analyze/...

# The photos are other people's and not kept here. Without a folder of them
# the benchmarks say so and measure nothing.
bench-real:
ifdef PHOTOS
	$(BENCH) -bench Real ./analyze -real '$(abspath $(PHOTOS))'
else
	@echo "nothing measured: give the folder of the photos, make bench-real PHOTOS=DIR (testdata/real/README.md)"
endif

dist:
	rm -rf dist && mkdir dist
	@set -e; for t in $(TARGETS); do \
		os=$${t%/*}; arch=$${t#*/}; ext=; [ $$os = windows ] && ext=.exe; \
		echo "dist/greige-$(VERSION)-$$os-$$arch$$ext"; \
		CGO_ENABLED=0 GOOS=$$os GOARCH=$$arch $(GO) build -trimpath -ldflags '$(LDFLAGS)' \
			-o dist/greige-$(VERSION)-$$os-$$arch$$ext ./cmd/greige; \
	done
	@set -e; for arch in amd64 arm64; do \
		echo "dist/greige-open-$(VERSION)-windows-$$arch.exe"; \
		CGO_ENABLED=0 GOOS=windows GOARCH=$$arch $(GO) build -trimpath -ldflags '$(LDFLAGS) -H windowsgui' \
			-o dist/greige-open-$(VERSION)-windows-$$arch.exe ./cmd/greige; \
		echo "dist/greige-open-$(VERSION)-darwin-$$arch.tar.gz"; \
		mkdir -p dist/Greige.app/Contents/MacOS; \
		cp dist/greige-$(VERSION)-darwin-$$arch dist/Greige.app/Contents/MacOS/greige; \
		sed 's/@VERSION@/$(VERSION)/' cmd/greige/Info.plist > dist/Greige.app/Contents/Info.plist; \
		tar -C dist -czf dist/greige-open-$(VERSION)-darwin-$$arch.tar.gz Greige.app; \
		rm -rf dist/Greige.app; \
	done
	cd dist && (sha256sum greige-* 2>/dev/null || shasum -a 256 greige-*) > SHA256SUMS

clean:
	rm -rf greige dist demo
