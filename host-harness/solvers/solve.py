#!/usr/bin/env python3
"""Answers questions with one solver.

Reads JSON lines {"id": n, "text": SMT-LIB without check-sat} on standard input and writes JSON lines
{"id": n, "verdict": "sat" | "unsat" | "unknown", "model": {name: value}, "seconds": s} on standard output.
Usage: solve.py z3|cvc5|bitwuzla [seconds a question]. `solve.py --versions` prints the solvers' versions.
"""
import json
import re
import sys
import time


def by_z3(text, limit):
    import z3

    solver = z3.SolverFor(logic(text))
    solver.set("timeout", int(limit * 1000))
    solver.from_string(text)
    verdict = str(solver.check())
    model = {}
    if verdict == "sat":
        found = solver.model()
        for name in declared(text):
            value = found.eval(z3.Int(name), model_completion=True)
            model[name] = str(value)
    return verdict, model


def by_cvc5(text, limit):
    import cvc5

    terms = cvc5.TermManager()
    solver = cvc5.Solver(terms)
    solver.setOption("tlimit-per", str(int(limit * 1000)))
    solver.setOption("produce-models", "true")
    parser = cvc5.InputParser(solver)
    parser.setStringInput(cvc5.InputLanguage.SMT_LIB_2_6, text, "question")
    symbols = parser.getSymbolManager()
    while True:
        command = parser.nextCommand()
        if command.isNull():
            break
        command.invoke(solver, symbols)
    result = solver.checkSat()
    verdict = "sat" if result.isSat() else "unsat" if result.isUnsat() else "unknown"
    model = {}
    if verdict == "sat":
        for term in symbols.getDeclaredTerms():
            value = str(solver.getValue(term))
            model[str(term)] = re.sub(r"\(- (\d+)\)", r"-\1", value)
    return verdict, model


def by_bitwuzla(text, limit):
    import bitwuzla

    options = bitwuzla.Options()
    options.set(bitwuzla.Option.PRODUCE_MODELS, True)
    options.set(bitwuzla.Option.TIME_LIMIT_PER, int(limit * 1000))
    parser = bitwuzla.Parser(bitwuzla.TermManager(), options)
    parser.parse(text, True, False)
    verdict = str(parser.bitwuzla().check_sat()).split(".")[-1].lower()
    return verdict, {}


def logic(text):
    return re.match(r"\(set-logic (\w+)\)", text).group(1)


def declared(text):
    return re.findall(r"\(declare-const (\S+) Int\)", text)


def versions():
    from importlib.metadata import version

    return {name: version(name) for name in ("z3-solver", "cvc5", "bitwuzla")}


def main():
    if sys.argv[1] == "--versions":
        print(json.dumps(versions()))
        return
    ask = {"z3": by_z3, "cvc5": by_cvc5, "bitwuzla": by_bitwuzla}[sys.argv[1]]
    limit = float(sys.argv[2]) if len(sys.argv) > 2 else 20.0
    for line in sys.stdin:
        question = json.loads(line)
        start = time.monotonic()
        verdict, model = ask(question["text"], limit)
        answer = {"id": question["id"], "verdict": verdict, "model": model, "seconds": round(time.monotonic() - start, 4)}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
