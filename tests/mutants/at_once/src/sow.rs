//! Puts faults into a copy of the sources.

use std::error::Error;
use std::fs;
use std::path::Path;

use quote::{ToTokens as _, quote};
use syn::spanned::Spanned as _;
use syn::visit_mut::{self, VisitMut};
use syn::{Arm, Attribute, BinOp, Block, Expr, ImplItemFn, Item, ItemFn, Pat, Signature, UnOp};
use syn::{parse_quote, parse2};

use super::value::of_return;

/// Copies a folder; every `every`th fault, from the one numbered `first` on, goes into the copy, but
/// for those that make no program.
pub fn sow(
    from: &Path,
    to: &Path,
    every: usize,
    first: usize,
    without: &[&str],
) -> Result<(), Box<dyn Error>> {
    let mut sower = Sower {
        file: String::new(),
        count: 0,
        every,
        first,
        sown: Vec::new(),
        errors: Vec::new(),
        without: without.iter().filter_map(|id| id.parse().ok()).collect(),
    };
    folder(from, to, &mut sower)?;
    for line in &sower.sown {
        println!("{line}");
    }
    eprintln!("{} of {} faults", sower.sown.len(), sower.count);
    match sower.errors.first() {
        Some(error) => Err(error.clone().into()),
        None => Ok(()),
    }
}

fn folder(from: &Path, to: &Path, sower: &mut Sower) -> Result<(), Box<dyn Error>> {
    fs::create_dir_all(to)?;
    let mut entries: Vec<_> = fs::read_dir(from)?.collect::<Result<_, _>>()?;
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
        let (path, there) = (entry.path(), to.join(entry.file_name()));
        let name = entry.file_name().to_string_lossy().into_owned();
        let tests = name.starts_with("tests") || name.ends_with("_tests.rs") || name == "rules.rs";
        if path.is_dir() {
            if tests {
                // No faults in tests: copied as they are.
                let mut still = Sower {
                    every: usize::MAX,
                    ..Sower::default()
                };
                folder(&path, &there, &mut still)?;
            } else {
                folder(&path, &there, sower)?;
            }
        } else if tests || !name.ends_with(".rs") || sower.every == usize::MAX {
            fs::copy(&path, &there)?;
        } else {
            let mut file = syn::parse_file(&fs::read_to_string(&path)?)?;
            sower.file = path.display().to_string();
            sower.visit_file_mut(&mut file);
            fs::write(&there, file.into_token_stream().to_string())?;
        }
    }
    Ok(())
}

#[derive(Default)]
struct Sower {
    file: String,
    count: usize,
    every: usize,
    first: usize,
    sown: Vec<String>,
    errors: Vec<String>,
    /// Those that make no program.
    without: Vec<usize>,
}

fn is_test(attributes: &[Attribute]) -> bool {
    let text = |a: &Attribute| a.to_token_stream().to_string();
    attributes
        .iter()
        .any(|a| a.path().is_ident("cfg") && text(a).contains("test"))
}

impl Sower {
    /// The number of a fault, if it is one of those that are put in.
    fn number(&mut self, line: usize, what: &str) -> Option<usize> {
        let here = self.count;
        self.count += 1;
        (here % self.every == self.first && !self.without.contains(&here)).then(|| {
            self.sown
                .push(format!("{here}\t{}:{line}\t{what}", self.file));
            here
        })
    }

    fn body(&mut self, signature: &Signature, block: &mut Block) {
        if signature.constness.is_some() {
            return;
        }
        visit_mut::visit_block_mut(self, block);
        let line = signature.ident.span().start().line;
        for value in of_return(&signature.output).into_iter().rev() {
            let what = format!("{} gives {}", signature.ident, value.to_token_stream());
            if let Some(id) = self.number(line, &what) {
                let early = parse_quote!(if crate::fault::is(#id) { return #value; });
                block.stmts.insert(0, early);
            }
        }
    }

    fn replace(
        &mut self,
        expr: &mut Expr,
        others: Vec<(String, proc_macro2::TokenStream)>,
        line: usize,
    ) {
        let mut whole = quote!({ (#expr) });
        let mut any = false;
        for (what, other) in others {
            if let Some(id) = self.number(line, &what) {
                whole = quote!({ if crate::fault::is(#id) { (#other) } else #whole });
                any = true;
            }
        }
        if !any {
            return;
        }
        match parse2::<Expr>(quote!((#whole))) {
            Ok(new) => *expr = new,
            Err(error) => self.errors.push(format!("{}:{line}: {error}", self.file)),
        }
    }
}

/// What stands for an operator instead.
fn others(op: &BinOp) -> &'static [&'static str] {
    match op {
        BinOp::Eq(_) => &["!="],
        BinOp::Ne(_) => &["=="],
        BinOp::And(_) => &["||"],
        BinOp::Or(_) => &["&&"],
        BinOp::Lt(_) => &["==", ">", "<="],
        BinOp::Gt(_) => &["==", "<", ">="],
        BinOp::Le(_) => &[">"],
        BinOp::Ge(_) => &["<"],
        BinOp::Add(_) => &["-", "*"],
        BinOp::Sub(_) => &["+", "/"],
        BinOp::Mul(_) => &["+", "/"],
        BinOp::Div(_) => &["%", "*"],
        BinOp::Rem(_) => &["/", "+"],
        BinOp::BitAnd(_) => &["|", "^"],
        BinOp::BitOr(_) => &["&", "^"],
        BinOp::AddAssign(_) => &["-=", "*="],
        BinOp::SubAssign(_) => &["+=", "/="],
        BinOp::MulAssign(_) => &["+=", "/="],
        BinOp::DivAssign(_) => &["%=", "*="],
        _ => &[],
    }
}

impl VisitMut for Sower {
    fn visit_item_mut(&mut self, item: &mut Item) {
        match item {
            Item::Const(_) | Item::Static(_) | Item::Macro(_) => {}
            Item::Mod(one) if is_test(&one.attrs) => {}
            Item::Fn(ItemFn { attrs, .. }) if is_test(attrs) => {}
            Item::Fn(one) => self.body(&one.sig, &mut one.block),
            _ => visit_mut::visit_item_mut(self, item),
        }
    }

    fn visit_impl_item_fn_mut(&mut self, one: &mut ImplItemFn) {
        self.body(&one.sig, &mut one.block);
    }

    // Patterns, types and array lengths are not worked out at run time.
    fn visit_pat_mut(&mut self, _: &mut Pat) {}
    fn visit_type_mut(&mut self, _: &mut syn::Type) {}

    fn visit_arm_mut(&mut self, arm: &mut Arm) {
        visit_mut::visit_expr_mut(self, &mut arm.body);
        if let Some((_, guard)) = &mut arm.guard {
            self.visit_expr_mut(guard);
            let line = guard.span().start().line;
            if let Some(id) = self.number(line, "guard is true") {
                **guard = parse_quote!(crate::fault::is(#id) || (#guard));
            }
            if let Some(id) = self.number(line, "guard is false") {
                **guard = parse_quote!(!crate::fault::is(#id) && (#guard));
            }
        }
    }

    fn visit_expr_mut(&mut self, expr: &mut Expr) {
        let line = expr.span().start().line;
        match expr {
            Expr::Repeat(_) | Expr::Const(_) => {}
            Expr::Binary(both) => {
                self.visit_expr_mut(&mut both.left);
                self.visit_expr_mut(&mut both.right);
                let lets = |e: &Expr| e.to_token_stream().to_string().contains("let ");
                if matches!(both.op, BinOp::And(_) | BinOp::Or(_))
                    && (lets(&both.left) || lets(&both.right))
                {
                    return;
                }
                let line = both.op.span().start().line;
                let (left, right, is) = (&both.left, &both.right, both.op.to_token_stream());
                let other = |sign: &&str| {
                    let op: proc_macro2::TokenStream = sign.parse().unwrap_or_default();
                    (format!("{sign} for {is}"), quote!(#left #op #right))
                };
                let all = others(&both.op).iter().map(other).collect();
                self.replace(expr, all, line);
            }
            Expr::Unary(one) if matches!(one.op, UnOp::Neg(_) | UnOp::Not(_)) => {
                self.visit_expr_mut(&mut one.expr);
                let (inner, is) = (&one.expr, one.op.to_token_stream());
                let all = vec![(format!("no {is}"), quote!(#inner))];
                self.replace(expr, all, line);
            }
            Expr::Match(one) => {
                visit_mut::visit_expr_match_mut(self, one);
                let wild = one
                    .arms
                    .iter()
                    .any(|a| matches!(a.pat, Pat::Wild(_)) && a.guard.is_none());
                for arm in one
                    .arms
                    .iter_mut()
                    .filter(|a| wild && !matches!(a.pat, Pat::Wild(_)))
                {
                    let line = arm.pat.span().start().line;
                    if let Some(id) = self.number(line, "no such arm") {
                        let asleep: Expr = match &arm.guard {
                            Some((_, guard)) => parse_quote!(!crate::fault::is(#id) && (#guard)),
                            None => parse_quote!(!crate::fault::is(#id)),
                        };
                        arm.guard = Some((Default::default(), Box::new(asleep)));
                    }
                }
            }
            _ => visit_mut::visit_expr_mut(self, expr),
        }
    }
}
