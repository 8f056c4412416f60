//! Declares the view models and events of `core/screens` to UniFFI from their source, so that none of them is written a
//! second time here. The compiler compares each declaration with the type itself.

use proc_macro2::TokenStream;
use quote::{ToTokens, quote};
use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs};
use syn::{Attribute, Field, Fields, Item, Visibility};

const SCREENS: &str = "../core/screens/src";

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed={SCREENS}");
    let mut declared = quote!();
    for file in sources(Path::new(SCREENS))? {
        for item in syn::parse_file(&fs::read_to_string(&file)?)?.items {
            declared.extend(declaration(item));
        }
    }
    fs::write(Path::new(&env::var("OUT_DIR")?).join("screens.rs"), declared.to_string())?;
    Ok(())
}

fn sources(folder: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            found.extend(sources(&path)?);
        } else {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// A public type that is serialized is a view model, an event, or a part of one.
fn declaration(item: Item) -> Option<TokenStream> {
    match item {
        Item::Struct(mut item) if is_public_data(&item.vis, &item.attrs) => {
            only_docs(&mut item.attrs);
            item.fields.iter_mut().for_each(bare);
            Some(quote!(#[uniffi::remote(Record)] #item))
        }
        Item::Enum(mut item) if is_public_data(&item.vis, &item.attrs) => {
            only_docs(&mut item.attrs);
            for variant in &mut item.variants {
                only_docs(&mut variant.attrs);
                if !matches!(variant.fields, Fields::Unit) {
                    variant.fields.iter_mut().for_each(bare);
                }
            }
            Some(quote!(#[uniffi::remote(Enum)] #item))
        }
        _ => None,
    }
}

fn is_public_data(visibility: &Visibility, attributes: &[Attribute]) -> bool {
    let derives = |attribute: &Attribute| {
        attribute.path().is_ident("derive") && attribute.to_token_stream().to_string().contains("Serialize")
    };
    matches!(visibility, Visibility::Public(_)) && attributes.iter().any(derives)
}

fn bare(field: &mut Field) {
    only_docs(&mut field.attrs);
}

fn only_docs(attributes: &mut Vec<Attribute>) {
    attributes.retain(|attribute| attribute.path().is_ident("doc"));
}
