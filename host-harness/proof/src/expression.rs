//! Exact integers and truths over unknowns: what symbolic words stand for, and what claims are written in.
//!
//! Expressions live in an arena of the thread, so that they are `Copy` like numbers. Each integer carries
//! a range, which decides many comparisons at once and shows most operations exact. In a *concrete* run
//! every unknown is a number and every expression folds to a constant: that is how counterexamples are
//! replayed on the shipped integers, with the very same property text.

use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};
use std::ops::{Add, BitAnd, BitOr, Mul, Neg, Not, Shr, Sub};

/// An exact integer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Z {
    /// A number.
    Const(i128),
    /// An expression of the arena.
    Node(u32),
}

/// A truth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Truth {
    /// Known.
    Known(bool),
    /// An expression of the arena.
    Node(u32),
}

/// How an integer is made.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Node {
    /// An unknown, with its index as its name's suffix.
    Unknown(String),
    /// A sum.
    Sum(Z, Z),
    /// A multiple.
    Scaled(i128, Z),
    /// `floor(x / 2^k)`.
    Floor(u32, Z),
    /// If, then, else.
    Choice(Truth, Z, Z),
    /// A product of two unknowns, the first not negative.
    Product(Z, Z),
}

/// How a truth is made.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Relation {
    /// `a <= b`.
    AtMost(Z, Z),
    /// Negation.
    Not(Truth),
    /// Both.
    And(Truth, Truth),
    /// Either.
    Or(Truth, Truth),
}

/// Something to be shown under the assumptions made before it.
#[derive(Clone, Debug)]
pub struct Obligation {
    /// Its name.
    pub what: String,
    /// Is it an operation's exactness, rather than a claim of the property?
    pub operation: bool,
    /// How many of the path's assumptions precede it.
    pub assumptions: usize,
    /// The claim.
    pub claim: Truth,
}

/// Everything of one path of one property.
#[derive(Default)]
pub struct Arena {
    /// Integers and their ranges.
    pub nodes: Vec<(Node, (i128, i128))>,
    /// The ranges the integers were made with, before assumptions narrowed them.
    pub born: Vec<(i128, i128)>,
    /// Truths.
    pub relations: Vec<Relation>,
    /// Assumptions, in order: the property's and the path's.
    pub assumptions: Vec<Truth>,
    /// Obligations, in order.
    pub obligations: Vec<Obligation>,
    known_nodes: HashMap<Node, u32>,
    known_relations: HashMap<Relation, u32>,
    /// Values of the unknowns in a concrete run; `None` in a symbolic one.
    pub values: Option<BTreeMap<String, i128>>,
    /// In a control run: fixed values for the gains, so that products are linear.
    pub fixed: BTreeMap<String, i128>,
}

impl Arena {
    /// The range an integer was made with.
    #[must_use]
    pub fn widest(&self, z: Z) -> (i128, i128) {
        match z {
            Z::Const(c) => (c, c),
            Z::Node(index) => self.born[index as usize],
        }
    }
}

thread_local!(static ARENA: RefCell<Arena> = RefCell::new(Arena::default()));

/// Runs `f` on the thread's arena.
pub fn arena<T>(f: impl FnOnce(&mut Arena) -> T) -> T {
    ARENA.with(|a| f(&mut a.borrow_mut()))
}

/// Starts anew; symbolic when `values` is `None`.
pub fn reset(values: Option<BTreeMap<String, i128>>, fixed: BTreeMap<String, i128>) {
    arena(|a| {
        *a = Arena {
            values,
            fixed,
            ..Arena::default()
        }
    });
}

fn node(node: Node, range: (i128, i128)) -> Z {
    if range.0 == range.1 {
        return Z::Const(range.0);
    }
    arena(|a| {
        if let Some(&known) = a.known_nodes.get(&node) {
            return Z::Node(known);
        }
        let index = a.nodes.len() as u32;
        a.known_nodes.insert(node.clone(), index);
        a.nodes.push((node, range));
        a.born.push(range);
        Z::Node(index)
    })
}

fn relation(relation: Relation) -> Truth {
    arena(|a| {
        if let Some(&known) = a.known_relations.get(&relation) {
            return Truth::Node(known);
        }
        let index = a.relations.len() as u32;
        a.known_relations.insert(relation.clone(), index);
        a.relations.push(relation);
        Truth::Node(index)
    })
}

/// An unknown integer between `lo` and `hi`. In a concrete run its value, which must be one of them.
pub fn unknown(name: &str, lo: i128, hi: i128) -> Z {
    let given = arena(|a| {
        let fixed = a.fixed.get(name).copied();
        match &a.values {
            Some(values) => Some(
                values
                    .get(name)
                    .copied()
                    .or(fixed)
                    .unwrap_or(lo.max(0.min(hi))),
            ),
            None => fixed,
        }
    });
    match given {
        Some(value) => Z::Const(value.clamp(lo, hi)),
        None => {
            let fresh = !arena(|a| a.known_nodes.contains_key(&Node::Unknown(name.to_string())));
            assert!(fresh, "two unknowns are called {name}");
            node(Node::Unknown(name.to_string()), (lo, hi))
        }
    }
}

/// Takes `truth` for granted from here on. Ranges of simple bounds are narrowed with it.
pub fn assume(truth: Truth) {
    arena(|a| a.assumptions.push(truth));
    if let Truth::Node(index) = truth {
        let what = arena(|a| a.relations[index as usize].clone());
        match what {
            Relation::AtMost(x, Z::Const(c)) => narrow_range(x, i128::MIN, c),
            Relation::AtMost(Z::Const(c), x) => narrow_range(x, c, i128::MAX),
            Relation::Not(Truth::Node(inner)) => {
                match arena(|a| a.relations[inner as usize].clone()) {
                    Relation::AtMost(x, Z::Const(c)) => narrow_range(x, c + 1, i128::MAX),
                    Relation::AtMost(Z::Const(c), x) => narrow_range(x, i128::MIN, c - 1),
                    _ => {}
                }
            }
            _ => {}
        }
    }
}

fn narrow_range(x: Z, lo: i128, hi: i128) {
    if let Z::Node(index) = x {
        let inner = arena(|a| {
            let (node, range) = &mut a.nodes[index as usize];
            // An empty range marks a path that no value takes; its obligations hold trivially, so leave it.
            if range.0.max(lo) <= range.1.min(hi) {
                *range = (range.0.max(lo), range.1.min(hi));
            }
            match node {
                Node::Floor(k, inner) => Some((*k, *inner)),
                _ => None,
            }
        });
        if let Some((k, inner)) = inner {
            let low = if lo == i128::MIN { lo } else { lo << k };
            let high = if hi == i128::MAX {
                hi
            } else {
                (hi << k) + (1 << k) - 1
            };
            narrow_range(inner, low, high);
        }
    }
}

/// States that `truth` holds under the assumptions made so far.
pub fn claim(what: &str, truth: Truth) {
    arena(|a| {
        let assumptions = a.assumptions.len();
        a.obligations.push(Obligation {
            what: what.to_string(),
            operation: false,
            assumptions,
            claim: truth,
        });
    });
}

/// States that an operation is exact.
pub fn oblige_operation(what: String, truth: Truth) {
    arena(|a| {
        let assumptions = a.assumptions.len();
        a.obligations.push(Obligation {
            what,
            operation: true,
            assumptions,
            claim: truth,
        });
    });
}

impl Z {
    /// The range of its values.
    #[must_use]
    pub fn range(self) -> (i128, i128) {
        match self {
            Z::Const(c) => (c, c),
            Z::Node(index) => arena(|a| a.nodes[index as usize].1),
        }
    }

    /// `self <= other`.
    #[must_use]
    pub fn at_most(self, other: impl Into<Z>) -> Truth {
        let other = other.into();
        let (a, b) = (self.range(), other.range());
        if a.1 <= b.0 {
            Truth::Known(true)
        } else if a.0 > b.1 {
            Truth::Known(false)
        } else if self == other {
            Truth::Known(true)
        } else {
            relation(Relation::AtMost(self, other))
        }
    }

    /// `self < other`.
    #[must_use]
    pub fn less(self, other: impl Into<Z>) -> Truth {
        !other.into().at_most(self)
    }

    /// `self = other`.
    #[must_use]
    pub fn same(self, other: impl Into<Z>) -> Truth {
        let other = other.into();
        self.at_most(other) & other.at_most(self)
    }

    /// `lo <= self <= hi`.
    #[must_use]
    pub fn within(self, lo: impl Into<Z>, hi: impl Into<Z>) -> Truth {
        lo.into().at_most(self) & self.at_most(hi)
    }

    /// `a <= self <= b` or `b <= self <= a`.
    #[must_use]
    pub fn between(self, a: Z, b: Z) -> Truth {
        self.within(a, b) | self.within(b, a)
    }

    /// The nearest in `lo..=hi`.
    #[must_use]
    pub fn clamp(self, lo: impl Into<Z>, hi: impl Into<Z>) -> Z {
        let (lo, hi) = (lo.into(), hi.into());
        let (x, l, h) = (self.range(), lo.range(), hi.range());
        let range = (x.0.max(l.0).min(h.0), x.1.max(l.1).min(h.1));
        let inner = self.less(lo).choose(lo, hi.less(self).choose(hi, self));
        narrow_range(inner, range.0, range.1);
        match inner {
            Z::Node(_) if range.0 == range.1 => Z::Const(range.0),
            _ => inner,
        }
    }

    /// `|self|`.
    #[must_use]
    pub fn magnitude(self) -> Z {
        self.less(0).choose(-self, self)
    }

    /// `self * other` of two unknowns; `self` is not negative.
    #[must_use]
    pub fn times(self, other: Z) -> Z {
        match (self, other) {
            (Z::Const(c), x) | (x, Z::Const(c)) => x * c,
            _ => {
                let (a, b) = (self.range(), other.range());
                let corners = [a.0 * b.0, a.0 * b.1, a.1 * b.0, a.1 * b.1];
                let lo = corners.iter().copied().min().unwrap_or(0);
                let hi = corners.iter().copied().max().unwrap_or(0);
                node(Node::Product(self, other), (lo, hi))
            }
        }
    }
}

impl From<i128> for Z {
    fn from(value: i128) -> Z {
        Z::Const(value)
    }
}
impl From<i32> for Z {
    fn from(value: i32) -> Z {
        Z::Const(value.into())
    }
}

impl Truth {
    /// `yes` when it holds, `no` otherwise.
    #[must_use]
    pub fn choose(self, yes: Z, no: Z) -> Z {
        match self {
            Truth::Known(true) => yes,
            Truth::Known(false) => no,
            Truth::Node(_) if yes == no => yes,
            Truth::Node(_) => {
                let (a, b) = (yes.range(), no.range());
                node(Node::Choice(self, yes, no), (a.0.min(b.0), a.1.max(b.1)))
            }
        }
    }

    /// If `self` then `other`.
    #[must_use]
    pub fn implies(self, other: Truth) -> Truth {
        !self | other
    }
}

impl Add for Z {
    type Output = Z;
    fn add(self, other: Z) -> Z {
        match (self, other) {
            (Z::Const(a), Z::Const(b)) => Z::Const(a + b),
            (Z::Const(0), x) | (x, Z::Const(0)) => x,
            (Z::Const(_), _) => other + self,
            _ => {
                let (a, b) = (self.range(), other.range());
                node(Node::Sum(self, other), (a.0 + b.0, a.1 + b.1))
            }
        }
    }
}
impl Add<i128> for Z {
    type Output = Z;
    fn add(self, other: i128) -> Z {
        self + Z::Const(other)
    }
}
impl Sub for Z {
    type Output = Z;
    fn sub(self, other: Z) -> Z {
        self + -other
    }
}
impl Sub<i128> for Z {
    type Output = Z;
    fn sub(self, other: i128) -> Z {
        self + Z::Const(-other)
    }
}
impl Neg for Z {
    type Output = Z;
    fn neg(self) -> Z {
        self * -1
    }
}
impl Mul<i128> for Z {
    type Output = Z;
    fn mul(self, factor: i128) -> Z {
        match self {
            Z::Const(c) => Z::Const(c * factor),
            _ if factor == 0 => Z::Const(0),
            _ if factor == 1 => self,
            Z::Node(index) => {
                let inner = arena(|a| match &a.nodes[index as usize].0 {
                    Node::Scaled(m, x) => Some((*m, *x)),
                    _ => None,
                });
                if let Some((m, x)) = inner {
                    return x * (m * factor);
                }
                let (lo, hi) = self.range();
                let (a, b) = (lo * factor, hi * factor);
                node(Node::Scaled(factor, self), (a.min(b), a.max(b)))
            }
        }
    }
}
/// `floor(self / 2^by)`.
impl Shr<u32> for Z {
    type Output = Z;
    fn shr(self, by: u32) -> Z {
        match self {
            _ if by == 0 => self,
            Z::Const(c) => Z::Const(c >> by),
            Z::Node(index) => {
                // floor((2^k m x + c) / 2^k) = m x + floor(c / 2^k)
                let scaled = |z: Z| -> Option<(i128, Z)> {
                    let Z::Node(i) = z else { return None };
                    arena(|a| match &a.nodes[i as usize].0 {
                        Node::Scaled(m, x) if m % (1 << by) == 0 => Some((m >> by, *x)),
                        _ => None,
                    })
                };
                if let Some((m, x)) = scaled(self) {
                    return x * m;
                }
                let sum = arena(|a| match &a.nodes[index as usize].0 {
                    Node::Sum(x, y) => Some((*x, *y)),
                    _ => None,
                });
                if let Some((x, Z::Const(c))) = sum
                    && let Some((m, x)) = scaled(x)
                {
                    return x * m + (c >> by);
                }
                let (lo, hi) = self.range();
                node(Node::Floor(by, self), (lo >> by, hi >> by))
            }
        }
    }
}
impl Not for Truth {
    type Output = Truth;
    fn not(self) -> Truth {
        match self {
            Truth::Known(known) => Truth::Known(!known),
            Truth::Node(index) => {
                let inner = arena(|a| match a.relations[index as usize] {
                    Relation::Not(inner) => Some(inner),
                    _ => None,
                });
                inner.unwrap_or_else(|| relation(Relation::Not(self)))
            }
        }
    }
}
impl BitAnd for Truth {
    type Output = Truth;
    fn bitand(self, other: Truth) -> Truth {
        match (self, other) {
            (Truth::Known(false), _) | (_, Truth::Known(false)) => Truth::Known(false),
            (Truth::Known(true), x) | (x, Truth::Known(true)) => x,
            _ => relation(Relation::And(self, other)),
        }
    }
}
impl BitOr for Truth {
    type Output = Truth;
    fn bitor(self, other: Truth) -> Truth {
        match (self, other) {
            (Truth::Known(true), _) | (_, Truth::Known(true)) => Truth::Known(true),
            (Truth::Known(false), x) | (x, Truth::Known(false)) => x,
            _ => relation(Relation::Or(self, other)),
        }
    }
}
