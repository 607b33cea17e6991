//! Expressions as SMT-LIB text over the integers.
//!
//! All is linear: shifts are division by constants, and a product of two unknowns is an unknown of its
//! own, tied to its factors by facts that hold for every product with a factor that is not negative. The
//! facts themselves are proven apart ([`product_facts`]).

use super::expression::{Node, Relation, Truth, Z, arena};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// A question for a solver.
#[derive(Clone, Debug)]
pub struct Query {
    /// SMT-LIB text without `check-sat`.
    pub text: String,
}

#[derive(Default)]
struct Writer {
    nodes: BTreeSet<u32>,
    relations: BTreeSet<u32>,
    declarations: String,
    definitions: String,
    products: Vec<(u32, Z, Z)>,
}

fn number(value: i128) -> String {
    if value < 0 {
        format!("(- {})", value.unsigned_abs())
    } else {
        value.to_string()
    }
}

impl Writer {
    fn integer(&mut self, z: Z) -> String {
        let index = match z {
            Z::Const(c) => return number(c),
            Z::Node(index) => index,
        };
        let name = match arena(|a| a.nodes[index as usize].0.clone()) {
            Node::Unknown(name) => name,
            _ => format!("t{index}"),
        };
        if !self.nodes.insert(index) {
            return name;
        }
        let node = arena(|a| a.nodes[index as usize].0.clone());
        let body = match node {
            Node::Unknown(_) => {
                let (lo, hi) = arena(|a| a.born[index as usize]);
                let _ = writeln!(self.declarations, "(declare-const {name} Int)");
                let _ = writeln!(
                    self.declarations,
                    "(assert (and (<= {} {name}) (<= {name} {})))",
                    number(lo),
                    number(hi)
                );
                return name;
            }
            Node::Product(k, e) => {
                self.integer(k);
                self.integer(e);
                let _ = writeln!(self.declarations, "(declare-const {name} Int)");
                self.products.push((index, k, e));
                return name;
            }
            Node::Sum(a, b) => format!("(+ {} {})", self.integer(a), self.integer(b)),
            Node::Scaled(m, x) => format!("(* {} {})", number(m), self.integer(x)),
            Node::Floor(k, x) => format!("(div {} {})", self.integer(x), 1_u128 << k),
            Node::Choice(t, a, b) => format!(
                "(ite {} {} {})",
                self.truth(t),
                self.integer(a),
                self.integer(b)
            ),
        };
        let _ = writeln!(self.definitions, "(define-fun {name} () Int {body})");
        name
    }

    fn truth(&mut self, t: Truth) -> String {
        let index = match t {
            Truth::Known(known) => return known.to_string(),
            Truth::Node(index) => index,
        };
        let name = format!("b{index}");
        if !self.relations.insert(index) {
            return name;
        }
        let body = match arena(|a| a.relations[index as usize].clone()) {
            Relation::AtMost(a, b) => format!("(<= {} {})", self.integer(a), self.integer(b)),
            Relation::Not(x) => format!("(not {})", self.truth(x)),
            Relation::And(x, y) => format!("(and {} {})", self.truth(x), self.truth(y)),
            Relation::Or(x, y) => format!("(or {} {})", self.truth(x), self.truth(y)),
        };
        let _ = writeln!(self.definitions, "(define-fun {name} () Bool {body})");
        name
    }

    /// True facts about the products met, each with a factor `k >= 0`.
    fn facts(&mut self) -> String {
        let mut text = String::new();
        let products = self.products.clone();
        // Says what each product is, for a reading that can multiply (bit-vectors).
        for &(p, k, e) in &products {
            let (ks, es) = (self.integer(k), self.integer(e));
            let _ = writeln!(text, "; product t{p} {ks} {es}");
        }
        text.push_str("; facts\n");
        for &(p, k, e) in &products {
            let (ks, es, ps) = (self.integer(k), self.integer(e), format!("t{p}"));
            let (_, top) = arena(|a| a.widest(k));
            let (least, most) = arena(|a| a.widest(e));
            let mut fact = |f: String| {
                let _ = writeln!(text, "(assert {f})");
            };
            fact(format!("(=> (>= {es} 0) (>= {ps} 0))"));
            fact(format!("(=> (<= {es} 0) (<= {ps} 0))"));
            fact(format!("(=> (>= {es} 1) (>= {ps} {ks}))"));
            fact(format!("(=> (<= {es} (- 1)) (<= {ps} (- {ks})))"));
            // |p| <= k * (bound of e) and <= (bound of k) * e
            fact(format!("(<= {ps} (* {} {ks}))", number(most.max(0))));
            fact(format!("(>= {ps} (* {} {ks}))", number(least.min(0))));
            fact(format!(
                "(=> (>= {es} 0) (<= {ps} (* {} {es})))",
                number(top)
            ));
            fact(format!(
                "(=> (<= {es} 0) (>= {ps} (* {} {es})))",
                number(top)
            ));
            for &(q, l, f) in &products {
                if p == q {
                    continue;
                }
                let (ls, fs, qs) = (self.integer(l), self.integer(f), format!("t{q}"));
                if l == k {
                    fact(format!("(=> (<= {es} {fs}) (<= {ps} {qs}))"));
                    fact(format!(
                        "(=> (<= {es} {fs}) (<= (- {qs} {ps}) (* {} (- {fs} {es}))))",
                        number(top)
                    ));
                } else if f == e {
                    fact(format!(
                        "(=> (and (<= {ks} {ls}) (>= {es} 0)) (<= {ps} {qs}))"
                    ));
                    fact(format!(
                        "(=> (and (<= {ks} {ls}) (<= {es} 0)) (>= {ps} {qs}))"
                    ));
                }
                for &(r, m, g) in &products {
                    let (ms, gs, rs) = (self.integer(m), self.integer(g), format!("t{r}"));
                    if l == k && m == k && r != p && r != q && p < q {
                        fact(format!(
                            "(=> (= (+ {es} {fs}) {gs}) (= (+ {ps} {qs}) {rs}))"
                        ));
                    }
                    if f == e && g == e && r != p && r != q && p < q {
                        fact(format!(
                            "(=> (= (+ {ks} {ls}) {ms}) (= (+ {ps} {qs}) {rs}))"
                        ));
                    }
                }
            }
        }
        text
    }

    fn finish(mut self, asserts: &[String]) -> Query {
        let facts = self.facts();
        let mut text = String::from("(set-logic QF_LIA)\n");
        text.push_str(&self.declarations);
        text.push_str(&self.definitions);
        text.push_str(&facts);
        text.push_str("; end of facts\n");
        for a in asserts {
            let _ = writeln!(text, "(assert {a})");
        }
        Query { text }
    }
}

/// Is there a value of the unknowns for which one of these obligations fails under the assumptions before
/// it? `None` when ranges alone show that there is none.
#[must_use]
pub fn counterexample_query(obligations: &[usize]) -> Option<Query> {
    let mut writer = Writer::default();
    let mut failures = Vec::new();
    for &o in obligations {
        let (assumptions, claim) = arena(|a| {
            let o = &a.obligations[o];
            (a.assumptions[..o.assumptions].to_vec(), o.claim)
        });
        if claim == Truth::Known(true) || assumptions.contains(&Truth::Known(false)) {
            continue;
        }
        let mut parts: Vec<String> = assumptions.iter().map(|&t| writer.truth(t)).collect();
        parts.push(format!("(not {})", writer.truth(claim)));
        failures.push(format!("(and {})", parts.join(" ")));
    }
    if failures.is_empty() {
        return None;
    }
    let any = if failures.len() == 1 {
        failures.remove(0)
    } else {
        format!("(or {})", failures.join(" "))
    };
    Some(writer.finish(&[any]))
}

/// Can all assumptions of the path hold together?
#[must_use]
pub fn vacuity_query() -> Option<Query> {
    let assumptions = arena(|a| a.assumptions.clone());
    if assumptions.contains(&Truth::Known(false)) {
        return None;
    }
    let mut writer = Writer::default();
    let asserts: Vec<String> = assumptions.iter().map(|&t| writer.truth(t)).collect();
    Some(writer.finish(&asserts))
}

/// The facts used about products, as questions of their own (nonlinear, over unbounded integers): each
/// must be unsatisfiable, the last is a control and must not be.
#[must_use]
pub fn product_facts() -> Vec<(&'static str, Query, bool)> {
    let facts = [
        ("sign of a product", "(and (>= k 0) (>= e 0) (< (* k e) 0))"),
        (
            "sign of a product, negative",
            "(and (>= k 0) (<= e 0) (> (* k e) 0))",
        ),
        ("at least the gain", "(and (>= k 0) (>= e 1) (< (* k e) k))"),
        (
            "at most minus the gain",
            "(and (>= k 0) (<= e (- 1)) (> (* k e) (- k)))",
        ),
        (
            "bounded by gain times bound",
            "(and (>= k 0) (<= e m) (> (* k e) (* m k)))",
        ),
        (
            "bounded by gain bound times signal",
            "(and (>= k 0) (<= k m) (>= e 0) (> (* k e) (* m e)))",
        ),
        (
            "bounded by gain bound times signal, negative",
            "(and (>= k 0) (<= k m) (<= e 0) (< (* k e) (* m e)))",
        ),
        (
            "monotone in the signal",
            "(and (>= k 0) (<= e f) (> (* k e) (* k f)))",
        ),
        (
            "slope at most the gain's bound",
            "(and (>= k 0) (<= k m) (<= e f) (> (- (* k f) (* k e)) (* m (- f e))))",
        ),
        (
            "monotone in the gain",
            "(and (<= k l) (>= e 0) (> (* k e) (* l e)))",
        ),
        (
            "monotone in the gain, negative",
            "(and (<= k l) (<= e 0) (< (* k e) (* l e)))",
        ),
        (
            "additive in the signal",
            "(and (= (+ e f) g) (not (= (+ (* k e) (* k f)) (* k g))))",
        ),
        (
            "additive in the gain",
            "(and (= (+ k l) m) (not (= (+ (* k e) (* l e)) (* m e))))",
        ),
        (
            "control: a negative gain is not monotone",
            "(and (<= e f) (> (* k e) (* k f)))",
        ),
    ];
    facts
        .iter()
        .map(|&(name, claim)| {
            let mut text = String::from("(set-logic QF_NIA)\n");
            for v in ["k", "l", "m", "e", "f", "g"] {
                let _ = writeln!(text, "(declare-const {v} Int)");
            }
            let _ = writeln!(text, "(assert {claim})");
            (name, Query { text }, !name.starts_with("control"))
        })
        .collect()
}
