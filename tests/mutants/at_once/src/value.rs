//! What a function may give back instead of what it should.

use syn::{Expr, GenericArgument, PathArguments, ReturnType, Type, parse_quote};

/// Values for a function's return type; none where no plain ones are known.
pub fn of_return(output: &ReturnType) -> Vec<Expr> {
    match output {
        ReturnType::Default => vec![parse_quote!(())],
        ReturnType::Type(_, ty) => of(ty),
    }
}

fn of(ty: &Type) -> Vec<Expr> {
    match ty {
        Type::Tuple(all) if all.elems.is_empty() => vec![parse_quote!(())],
        Type::Tuple(all) => {
            let each: Vec<Vec<Expr>> = all.elems.iter().map(of).collect();
            let most = each.iter().map(Vec::len).max().unwrap_or(0);
            if each.iter().any(Vec::is_empty) {
                return Vec::new();
            }
            (0..most)
                .map(|k| {
                    let one = each.iter().map(|values| &values[k % values.len()]);
                    parse_quote!((#(#one,)*))
                })
                .collect()
        }
        Type::Path(path) => path.path.segments.last().map_or(Vec::new(), |last| {
            let inner = || match &last.arguments {
                PathArguments::AngleBracketed(args) => args.args.iter().find_map(|arg| match arg {
                    GenericArgument::Type(ty) => Some(of(ty)),
                    _ => None,
                }),
                _ => None,
            };
            match last.ident.to_string().as_str() {
                "bool" => vec![parse_quote!(true), parse_quote!(false)],
                "f64" => vec![parse_quote!(0.0), parse_quote!(1.0), parse_quote!(-1.0)],
                "usize" | "u64" | "u32" | "u16" | "u8" => vec![parse_quote!(0), parse_quote!(1)],
                "i64" | "i32" | "isize" => {
                    vec![parse_quote!(0), parse_quote!(1), parse_quote!(-1)]
                }
                "String" => vec![parse_quote!(String::new()), parse_quote!("xyzzy".into())],
                "Option" => {
                    let some = inner().unwrap_or_default();
                    let some = some.into_iter().map(|value| parse_quote!(Some(#value)));
                    std::iter::once(parse_quote!(None)).chain(some).collect()
                }
                "Vec" => {
                    let one = inner().unwrap_or_default();
                    let one = one.into_iter().map(|value| parse_quote!(vec![#value]));
                    std::iter::once(parse_quote!(Vec::new()))
                        .chain(one)
                        .collect()
                }
                _ => Vec::new(),
            }
        }),
        _ => Vec::new(),
    }
}
