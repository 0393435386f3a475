SAMPLE ?= shared/samples/adult-60-percent-first-plan.json
BIN := .venv/bin

.PHONY: setup run test lint fix bench openapi recreate-golden
.NOTPARALLEL:

setup:
	@.ci/setup

run: setup
	@exec $(BIN)/graftstage serve --or-free-port --show $(SAMPLE)

test: lint
	$(BIN)/pytest

lint: setup
	$(BIN)/ruff check
	$(BIN)/lint-imports --no-logo

fix: setup
	$(BIN)/ruff check --fix

bench: setup
	$(BIN)/python -m tests.bench.bench

openapi: setup
	$(BIN)/python -m tests.api.write_openapi

recreate-golden: setup
	$(BIN)/pytest -q tests/golden --recreate-golden
