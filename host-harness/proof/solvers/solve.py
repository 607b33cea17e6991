#!/usr/bin/env python3
"""Answers questions with one solver.

Reads JSON lines {"id": n, "text": SMT-LIB without check-sat} on standard input and writes JSON lines
{"id": n, "verdict": "sat" | "unsat" | "unknown", "model": {name: value}, "seconds": s, "version": v} on standard
output.
Usage: solve.py z3|cvc5|bitwuzla [seconds a question]. `solve.py --versions` prints the solvers' versions.
"""
import importlib.util
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


# Wide enough that no sum of an 8/16 question wraps: its greatest term is below 2^34.
BITS = 48


def tokens(text):
    """Nested lists of one line of SMT-LIB."""
    stack = [[]]
    for token in re.findall(r"[()]|[^\s()]+", text):
        if token == "(":
            stack.append([])
        elif token == ")":
            inner = stack.pop()
            stack[-1].append(inner)
        else:
            stack[-1].append(token)
    return stack[0]


def constant(value):
    return f"(_ bv{value % (1 << BITS)} {BITS})"


def as_bits(term):
    """An integer term as bits. Division is by powers of two, so it is an arithmetic shift."""
    if not isinstance(term, list):
        return constant(int(term)) if re.fullmatch(r"\d+", term) else term
    if len(term) == 2 and term[0] == "-":
        return f"(bvneg {as_bits(term[1])})"
    if term[0] in ("and", "or") and len(term) == 2:
        return as_bits(term[1])
    if term[0] == "div":
        power = int(term[2]).bit_length() - 1
        assert 1 << power == int(term[2])
        return f"(bvashr {as_bits(term[1])} {constant(power)})"
    operators = {"+": "bvadd", "-": "bvsub", "*": "bvmul", "<=": "bvsle", ">=": "bvsge"}
    return "(" + " ".join([operators.get(term[0], term[0])] + [as_bits(t) for t in term[1:]]) + ")"


def bit_vectors(text):
    """The same question over bit-vectors, with true products instead of the facts about them."""
    products = dict(line.split(" ", 3)[2:] for line in text.splitlines() if line.startswith("; product "))
    out, pending, facts = ["(set-logic QF_BV)"], [], False
    for line in text.splitlines()[1:]:
        if line == "; facts":
            facts = True
        elif line == "; end of facts":
            facts = False
        elif facts or line.startswith(";"):
            continue
        elif line.startswith("(declare-const "):
            name = line.split()[1]
            if name in products:
                # Defined after its factors, which are defined before it is used.
                continue
            out.append(f"(declare-const {name} (_ BitVec {BITS}))")
        else:
            head = tokens(line)[0]
            if head[0] == "define-fun":
                sort = "Bool" if head[3] == "Bool" else f"(_ BitVec {BITS})"
                pending.append((head[1], sort, head[4]))
            else:
                pending.append((None, None, head[1]))
    names = {p[0] for p in pending if p[0]} | set(products)
    bodies = {name: (f"(_ BitVec {BITS})", ["*"] + tokens(factors)) for name, factors in products.items()}
    bodies.update({name: (sort, body) for name, sort, body in pending if name})
    done = set()

    def used(term):
        if isinstance(term, list):
            for t in term:
                yield from used(t)
        elif term in names:
            yield term

    def define(name):
        if name in done:
            return
        done.add(name)
        sort, body = bodies[name]
        for other in used(body):
            define(other)
        out.append(f"(define-fun {name} () {sort} {as_bits(body)})")

    for name in bodies:
        define(name)
    out.extend(f"(assert {as_bits(body)})" for name, _, body in pending if name is None)
    return "\n".join(out) + "\n"


def by_bitwuzla(text, limit):
    import bitwuzla

    options = bitwuzla.Options()
    options.set(bitwuzla.Option.PRODUCE_MODELS, True)
    options.set(bitwuzla.Option.TIME_LIMIT_PER, int(limit * 1000))
    parser = bitwuzla.Parser(bitwuzla.TermManager(), options)
    parser.parse(bit_vectors(text), True, False)
    solver = parser.bitwuzla()
    verdict = str(solver.check_sat()).split(".")[-1].lower()
    model = {}
    if verdict == "sat":
        for symbol in parser.get_declared_funs():
            if symbol.symbol() and symbol.sort().is_bv():
                value = int(solver.get_value(symbol).value(10))
                model[symbol.symbol()] = str(value - (1 << BITS) if value >> (BITS - 1) else value)
    return verdict, model


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
    if importlib.util.find_spec(sys.argv[1]) is None:
        sys.exit(f"{sys.executable} has no module {sys.argv[1]}")
    ask = {"z3": by_z3, "cvc5": by_cvc5, "bitwuzla": by_bitwuzla}[sys.argv[1]]
    limit = float(sys.argv[2]) if len(sys.argv) > 2 else 20.0
    version = versions()[{"z3": "z3-solver"}.get(sys.argv[1], sys.argv[1])]
    for line in sys.stdin:
        question = json.loads(line)
        start = time.monotonic()
        verdict, model = ask(question["text"], limit)
        seconds = round(time.monotonic() - start, 4)
        answer = {"id": question["id"], "verdict": verdict, "model": model, "seconds": seconds, "version": version}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
