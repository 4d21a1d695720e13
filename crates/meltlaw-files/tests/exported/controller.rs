//! A controller of just so much structured text as the export writes: elementary types, constants and one-dimensional
//! arrays of constants, assignments, `IF`, `WHILE`, `SQRT`; `REAL` in single precision. An open general parser of
//! IEC 61131-3 reads the text, all but the initialisers of arrays, which it does not know; whatever else it finds in it, or
//! a type that does not fit, ends the test.
#![allow(dead_code, unreachable_pub, clippy::panic, reason = "a test may stop")]

use std::collections::{BTreeMap, BTreeSet};

use iec61131::{
    Argument, BinaryOp, Expression, FunctionBlockDecl, Literal, Parser, PouDeclaration, Statement, TypeSpec, UnaryOp,
    VarDecl, Variable,
};

#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    Bool(bool),
    Int(i16),
    Real(f32),
    Text(String),
    Reals(Vec<f32>),
    Ints(Vec<i16>),
}

/// An instance of a function block: its variables outlive a call.
pub struct Instance {
    block: FunctionBlockDecl,
    constants: BTreeSet<String>,
    variables: BTreeMap<String, Value>,
    /// Statements carried out, against loops that do not end.
    steps: u64,
}

impl Instance {
    /// Reads the text, which must hold one function block and nothing else.
    pub fn new(text: &str) -> Self {
        let (text, initialisers) = without_initialisers(text);
        let unit = Parser::new(&text).parse().unwrap_or_else(|e| panic!("the parser found: {e}"));
        let [PouDeclaration::FunctionBlock(block)] = &unit.declarations[..] else {
            panic!("one function block was needed, {} declarations were found", unit.declarations.len())
        };
        assert!(block.in_outs.is_empty() && block.methods.is_empty() && block.extends.is_none());
        let mut instance =
            Self { block: block.clone(), constants: BTreeSet::new(), variables: BTreeMap::new(), steps: 0 };
        for declared in block.inputs.iter().chain(&block.outputs).chain(&block.vars) {
            let name = declared.name.to_lowercase();
            if declared.is_constant {
                instance.constants.insert(name.clone());
            }
            let before = instance.variables.insert(name, initial(declared, &initialisers));
            assert!(before.is_none(), "{} is declared twice", declared.name);
        }
        let arrays = instance.variables.values().filter(|v| matches!(v, Value::Reals(_) | Value::Ints(_))).count();
        assert_eq!(arrays, initialisers.len(), "an array without values, or values without an array");
        instance
    }

    /// The instance after another text was loaded while the controller ran, or while it was off and its memory was retained:
    /// whatever has the same name and type keeps its value, constants as well, as the worst of controllers does it.
    pub fn changed_online(&self, text: &str) -> Self {
        let mut changed = Self::new(text);
        for (name, value) in &mut changed.variables {
            let same = |old: &&Value| match (&**old, &*value) {
                (Value::Reals(old), Value::Reals(new)) => old.len() == new.len(),
                (Value::Ints(old), Value::Ints(new)) => old.len() == new.len(),
                (old, new) => std::mem::discriminant(old) == std::mem::discriminant(new),
            };
            if let Some(old) = self.variables.get(name).filter(same) {
                *value = old.clone();
            }
        }
        changed
    }

    /// Names of inputs, outputs and inner variables, as written.
    pub fn names(&self) -> Vec<&str> {
        let all = self.block.inputs.iter().chain(&self.block.outputs).chain(&self.block.vars);
        all.map(|v| v.name.as_str()).chain([self.block.name.as_str()]).collect()
    }

    pub fn call(&mut self, wire_feed_m_min: f32) {
        self.variables.insert("wire_feed_m_min".to_owned(), Value::Real(wire_feed_m_min));
        let body = self.block.body.clone().unwrap_or_default();
        self.steps = 0;
        self.run(&body);
    }

    /// Statements of the last call.
    pub fn steps(&self) -> u64 {
        self.steps
    }

    pub fn value(&self, name: &str) -> &Value {
        self.variables.get(&name.to_lowercase()).unwrap_or_else(|| panic!("{name} is not declared"))
    }

    pub fn real(&self, name: &str) -> f32 {
        if let Value::Real(value) = self.value(name) { *value } else { panic!("{name} is no REAL") }
    }

    pub fn code(&self, name: &str) -> u8 {
        if let Value::Int(value) = self.value(name) {
            u8::try_from(*value).unwrap()
        } else {
            panic!("{name} is no INT")
        }
    }

    fn run(&mut self, statements: &[Statement]) {
        for statement in statements {
            self.steps += 1;
            assert!(self.steps < 1_000_000, "a loop does not end");
            match statement {
                Statement::Assignment { target, value, .. } => {
                    let value = self.evaluate(value);
                    self.assign(target, value);
                }
                Statement::If { condition, then_body, elsif_parts, else_body, .. } => {
                    let mut branches = vec![(condition, then_body)];
                    branches.extend(elsif_parts.iter().map(|(condition, body)| (condition, body)));
                    if let Some(at) = branches.iter().position(|(condition, _)| self.holds(condition)) {
                        self.run(branches[at].1);
                    } else if let Some(body) = else_body {
                        self.run(body);
                    }
                }
                Statement::While { condition, body, .. } => {
                    while self.holds(condition) {
                        self.run(body);
                    }
                }
                other => panic!("beyond the plainest form: {other:?}"),
            }
        }
    }

    fn holds(&self, condition: &Expression) -> bool {
        match self.evaluate(condition) {
            Value::Bool(holds) => holds,
            other => panic!("a condition is {other:?}"),
        }
    }

    fn assign(&mut self, target: &Variable, value: Value) {
        let (name, index) = self.place(target);
        assert!(!self.constants.contains(&name), "{name} is a constant");
        let declared = self.variables.get_mut(&name).unwrap_or_else(|| panic!("{name} is not declared"));
        match (declared, index, value) {
            (declared @ Value::Text(_), None, Value::Text(value)) => {
                assert!(value.len() <= 80, "{name} holds at most 80 characters");
                *declared = Value::Text(value);
            }
            (declared, None, value) => {
                let same = std::mem::discriminant(declared) == std::mem::discriminant(&value);
                assert!(same, "{name} is {declared:?}, not {value:?}");
                *declared = value;
            }
            (declared, index, value) => panic!("{name}[{index:?}] is {declared:?}, not {value:?}"),
        }
    }

    /// Name of a variable and, of an array, the element counted from 0.
    fn place(&self, variable: &Variable) -> (String, Option<usize>) {
        match variable {
            Variable::Simple(name) => (name.to_lowercase(), None),
            Variable::ArrayAccess { base, indices } => match (&**base, &indices[..]) {
                (Variable::Simple(name), [index]) => match self.evaluate(index) {
                    Value::Int(index) => (name.to_lowercase(), Some(usize::try_from(index - 1).unwrap())),
                    other => panic!("an index is {other:?}"),
                },
                _ => panic!("beyond the plainest form: {variable:?}"),
            },
            other => panic!("beyond the plainest form: {other:?}"),
        }
    }

    fn evaluate(&self, expression: &Expression) -> Value {
        match expression {
            Expression::Literal(literal) => of_literal(literal),
            Expression::Parenthesized(inner) => self.evaluate(inner),
            Expression::Variable(variable) => match self.place(variable) {
                (name, None) => self.value(&name).clone(),
                (name, Some(index)) => match self.value(&name) {
                    Value::Reals(all) => Value::Real(all[index]),
                    Value::Ints(all) => Value::Int(all[index]),
                    other => panic!("{name} is {other:?}, no array"),
                },
            },
            Expression::Unary { op, operand } => match (op, self.evaluate(operand)) {
                (UnaryOp::Not, Value::Bool(value)) => Value::Bool(!value),
                (UnaryOp::Neg, Value::Real(value)) => Value::Real(-value),
                (op, value) => panic!("{op:?} of {value:?}"),
            },
            Expression::Binary { op, left, right } => binary(*op, self.evaluate(left), self.evaluate(right)),
            Expression::Call { function, arguments } => match (function.as_str(), &arguments[..]) {
                ("SQRT", [Argument::Positional(argument)]) => match self.evaluate(argument) {
                    Value::Real(value) => Value::Real(value.sqrt()),
                    other => panic!("SQRT of {other:?}"),
                },
                _ => panic!("beyond the plainest form: {function}"),
            },
        }
    }
}

fn of_literal(literal: &Literal) -> Value {
    match literal {
        Literal::Bool(value) => Value::Bool(*value),
        Literal::Integer(value) => Value::Int(i16::try_from(*value).unwrap()),
        // The parser reads in double precision, as compilers may.
        Literal::Real(value) => Value::Real(*value as f32),
        Literal::String(value) => Value::Text(decoded(value)),
        other => panic!("beyond the plainest form: {other:?}"),
    }
}

/// `$27` is the character of that code.
fn decoded(text: &str) -> String {
    let mut parts = text.split('$');
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (code, rest) = part.split_at(2);
        out.push(char::from(u8::from_str_radix(code, 16).unwrap()));
        out.push_str(rest);
    }
    out
}

/// The text without the initialisers of its arrays, and their values by name. No other `:= [` may stand in it: comments hold
/// no bracket.
fn without_initialisers(text: &str) -> (String, BTreeMap<String, Vec<String>>) {
    let (mut plain, mut initialisers, mut rest) = (String::new(), BTreeMap::new(), text);
    while let Some((before, after)) = rest.split_once(" := [") {
        let (values, after) = after.split_once(']').unwrap();
        let declared = before.rsplit('\n').next().unwrap();
        let (name, of) = declared.trim().split_once(" : ").unwrap();
        assert!(of.starts_with("ARRAY [1.."), "values of {of}");
        let values: Vec<String> = values.split(',').map(|value| value.trim().to_owned()).collect();
        assert!(initialisers.insert(name.to_lowercase(), values).is_none());
        plain.push_str(before);
        rest = after;
    }
    (plain + rest, initialisers)
}

fn initial(declared: &VarDecl, initialisers: &BTreeMap<String, Vec<String>>) -> Value {
    assert!(declared.location.is_none() && !declared.is_retain);
    assert!(
        !declared.is_constant || declared.init_value.is_some() || matches!(declared.var_type, TypeSpec::Array { .. })
    );
    let value = match &declared.var_type {
        TypeSpec::Elementary(name) => match name.as_str() {
            "BOOL" => Value::Bool(false),
            "INT" => Value::Int(0),
            "REAL" => Value::Real(0.0),
            "STRING" => Value::Text(String::new()),
            other => panic!("beyond the plainest form: {other}"),
        },
        TypeSpec::Array { dimensions, element_type } => {
            assert!(declared.is_constant, "an array that is no constant");
            let values = &initialisers[&declared.name.to_lowercase()];
            let [dimension] = &dimensions[..] else { panic!("{} has several dimensions", declared.name) };
            let (first, last) = match (&dimension.start, &dimension.end) {
                (Expression::Literal(a), Expression::Literal(b)) => (of_literal(a), of_literal(b)),
                _ => panic!("ends of {} are no numbers", declared.name),
            };
            let Value::Int(count @ 1..) = last else { panic!("{} ends at {last:?}", declared.name) };
            assert_eq!((first, count as usize), (Value::Int(1), values.len()), "{}", declared.name);
            assert!(values.iter().all(|value| value.starts_with(|c: char| c.is_ascii_digit() || c == '-')));
            match &**element_type {
                // The controller reads in double precision, as compilers may.
                TypeSpec::Elementary(name) if name == "REAL" => {
                    assert!(values.iter().all(|value| value.contains('.')), "{}", declared.name);
                    Value::Reals(values.iter().map(|value| value.parse::<f64>().unwrap() as f32).collect())
                }
                TypeSpec::Elementary(name) if name == "INT" => {
                    Value::Ints(values.iter().map(|value| value.parse().unwrap()).collect())
                }
                other => panic!("beyond the plainest form: {other:?}"),
            }
        }
        other => panic!("beyond the plainest form: {other:?}"),
    };
    match &declared.init_value {
        None => value,
        Some(Expression::Literal(literal)) => {
            let stated = of_literal(literal);
            assert_eq!(std::mem::discriminant(&stated), std::mem::discriminant(&value), "{}", declared.name);
            stated
        }
        Some(other) => panic!("beyond the plainest form: {other:?}"),
    }
}

fn binary(op: BinaryOp, left: Value, right: Value) -> Value {
    use BinaryOp::{Add, And, Div, Eq, Ge, Gt, Le, Lt, Mul, Sub};
    match (left, right) {
        (Value::Real(a), Value::Real(b)) => match op {
            Add => Value::Real(a + b),
            Sub => Value::Real(a - b),
            Mul => Value::Real(a * b),
            Div => Value::Real(a / b),
            Lt => Value::Bool(a < b),
            Le => Value::Bool(a <= b),
            Gt => Value::Bool(a > b),
            Ge => Value::Bool(a >= b),
            // Equality of reals is not asked for: compilers warn of it.
            other => panic!("{other:?} of reals"),
        },
        (Value::Int(a), Value::Int(b)) => match op {
            Add => Value::Int(a.checked_add(b).unwrap()),
            Sub => Value::Int(a.checked_sub(b).unwrap()),
            // Towards zero, as the language has it.
            Div => Value::Int(a.checked_div(b).unwrap()),
            Lt => Value::Bool(a < b),
            Le => Value::Bool(a <= b),
            Gt => Value::Bool(a > b),
            Ge => Value::Bool(a >= b),
            Eq => Value::Bool(a == b),
            other => panic!("{other:?} of integers"),
        },
        (Value::Bool(a), Value::Bool(b)) if op == And => Value::Bool(a && b),
        (left, right) => panic!("{op:?} of {left:?} and {right:?}"),
    }
}
