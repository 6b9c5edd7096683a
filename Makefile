# From a fresh clone, with Python 3.11, make and git: `make demo`, `make test`. Everything lands in .venv and build/.
# Another Python: make PYTHON=/path/to/python3.12 demo

PYTHON ?= python3
export NO_MKDOCS_2_WARNING := 1
BIN := .venv/bin
RUN := $(BIN)/python
ASSETS := src/wattwitness/render/assets/vendor
LOCKS := requirements.txt requirements-build.txt requirements-dev.txt requirements-uv.txt
COMPILE := $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--no-emit-index-url --no-header --no-annotate

.PHONY: demo test docs truth speed screenshot wheel assets lock format clean help
.PHONY: check check-format check-lint check-types check-layers check-licences check-words

help:
	@echo "make demo        run the main job on a demo ride and leave an HTML report"
	@echo "make test        run the tests"
	@echo "make check       lint, types, layers, documentation, licences"
	@echo "make docs        build the documentation into site/"
	@echo "make truth       rides with a known truth, in full, into docs/measured/truth.md"
	@echo "make speed       time and memory of one ride, of a bench of 200, and of a page in a browser, into docs/measured/"
	@echo "make screenshot  the pictures of the report in README.md and of the tutorial"
	@echo "make wheel       build the package into dist/ and try it in an empty environment, offline"
	@echo "make lock        pin the newest allowed versions, with hashes"
	@echo "make clean       remove everything that was made"

demo: .venv/runtime.stamp build/assets.stamp
	@$(BIN)/wattwitness demo --folder demo

# Many processes at once: threads of the matrix library would wait for one another.
test truth: export OPENBLAS_NUM_THREADS := 1

test: .venv/dev.stamp build/assets.stamp
	@$(RUN) tools/find_chromium.py --install
	$(RUN) -m pytest -n auto --dist worksteal

# `make --keep-going check` goes through all of them and shows every failure.
check: check-format check-lint check-types check-layers check-licences check-words docs

check-format: .venv/dev.stamp
	$(BIN)/ruff format --check .

check-lint: .venv/dev.stamp
	$(BIN)/ruff check .

check-types: .venv/dev.stamp
	$(BIN)/mypy

check-layers: .venv/dev.stamp
	$(BIN)/lint-imports

check-licences: .venv/dev.stamp
	$(RUN) tools/check_licences.py

check-words: .venv/dev.stamp
	$(RUN) -m pytest -q tests/contract/test_docs.py tests/contract/test_locks.py

docs: .venv/dev.stamp
	$(BIN)/mkdocs build --strict --quiet
	@echo "site/index.html"

truth: .venv/dev.stamp
	$(RUN) -m tests.truth --full --out docs/measured/truth.md

speed: .venv/dev.stamp build/assets.stamp
	$(RUN) -m benchmarks --out docs/measured/speed.md
	$(RUN) -m benchmarks.many --out docs/measured/bench.md
	$(RUN) -m benchmarks.page --out docs/measured/page.md

screenshot: demo .venv/dev.stamp
	$(RUN) -m tools.screenshot demo/report.html docs/images/report.png
	WATTWITNESS_PICTURES=1 $(RUN) -m pytest -q tests/e2e/test_bench_tour.py

wheel: .venv/dev.stamp build/assets.stamp
	$(RUN) tools/check_wheel.py

assets: build/assets.stamp

format: .venv/dev.stamp
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

lock: .venv/dev.stamp
	$(COMPILE) --upgrade pyproject.toml --group dev --output-file requirements-dev.txt
	$(COMPILE) pyproject.toml --constraint requirements-dev.txt --output-file requirements.txt
	$(COMPILE) --group build --constraint requirements-dev.txt --output-file requirements-build.txt
	$(COMPILE) --group uv --constraint requirements-dev.txt --output-file requirements-uv.txt

clean:
	rm -rf .venv build dist site demo $(ASSETS) node_modules .mypy_cache .ruff_cache .pytest_cache .hypothesis \
		.import_linter_cache .benchmarks

.venv/runtime.stamp: requirements.txt requirements-build.txt pyproject.toml tools/environment.py
	@$(PYTHON) tools/environment.py runtime
	@touch $@

.venv/dev.stamp: $(LOCKS) pyproject.toml tools/environment.py
	@$(PYTHON) tools/environment.py dev
	@touch $@ .venv/runtime.stamp

# Order-only: any environment that has been set up can fetch the page's parts.
build/assets.stamp: package.json package-lock.json .npmrc tools/page_assets.py | .venv/runtime.stamp
	@$(RUN) tools/page_assets.py
	@touch $@
