SAMPLE ?= shared/samples/adult-60-percent-first-plan.json
BIN := .venv/bin

.PHONY: setup run test conformance lint fix bench sameness fuzz openapi recreate-golden
.NOTPARALLEL:

setup:
	@.ci/setup

run: setup
	@exec $(BIN)/graftstage serve --or-free-port --show $(SAMPLE)

test: lint
	$(BIN)/pytest -n auto --maxprocesses 4 --dist loadfile

conformance: setup
	@.ci/build-validator
	$(BIN)/python -m tests.conformance.judge_emitted

lint: setup
	$(BIN)/ruff check
	$(BIN)/lint-imports --no-logo

fix: setup
	$(BIN)/ruff check --fix

bench: setup
	$(BIN)/python -m tests.bench.bench

sameness: setup
	$(BIN)/python -m tests.bench.sameness

fuzz: setup
	FUZZ_CASES=$${FUZZ_CASES:-100000} $(BIN)/pytest -q tests/fuzz tests/api/test_openapi.py

openapi: setup
	$(BIN)/python -m tests.api.write_openapi

recreate-golden: setup
	$(BIN)/pytest -q tests/golden --recreate-golden
