//! Documents that are made from the tables of the code: `docs/findings.md` and `docs/fields.md` below a mark,
//! the tables of keys in `docs/kit-toml.md` between marks, and `docs/kit.schema.json` as a whole.
#![allow(clippy::disallowed_methods, reason = "blessing writes the documents")]

use std::fmt::Write as _;
use std::fs;

use lensmend::fields::{Facet, Field};
use lensmend::finding::Code;
use lensmend::kit;
use lensmend::kit::form::Heading;
use lensmend::kit::keys::HEADINGS;

use crate::workshop::{blessing, first_difference, root, text};

/// What parts the hand-made head of a document from what is made here.
const MARK: &str = "<!-- Made from the code: edit there, then run `BLESS=1 cargo test --test suite reference`. -->";

#[test]
fn every_finding_is_documented() {
    hold("docs/findings.md", &findings());
}

#[test]
fn every_field_is_documented() {
    hold("docs/fields.md", &fields());
}

#[test]
fn every_key_of_the_kit_is_documented() {
    let path = "docs/kit-toml.md";
    let page = text(path).unwrap();
    let mut made = page.clone();
    for heading in HEADINGS {
        let begin = format!("<!-- keys of {} -->\n", heading.path);
        let parts = made.split_once(&begin).and_then(|(before, rest)| {
            let (_, after) = rest.split_once("<!-- end -->\n")?;
            Some((before, after))
        });
        let Some((before, after)) = parts else {
            panic!("{path} lacks the two lines for the table of keys:\n{begin}<!-- end -->");
        };
        made = format!("{before}{begin}{}<!-- end -->\n{after}", keys(heading));
    }
    whole(path, &page, &made);
}

#[test]
fn the_schema_of_the_kit_is_published() {
    let path = "docs/kit.schema.json";
    whole(path, &text(path).unwrap_or_default(), &kit::schema());
}

/// Holds a whole document to `made`, or rewrites it.
fn whole(path: &str, there: &str, made: &str) {
    if blessing() {
        if there != made {
            fs::write(root().join(path), made).unwrap();
        }
    } else if let Some(difference) = first_difference(there.as_bytes(), made.as_bytes()) {
        panic!(
            "{path} is not what the code says; {difference}\nRun: BLESS=1 cargo test --test suite reference"
        );
    }
}

fn keys(heading: &Heading) -> String {
    let mut page = String::from("| key | meaning | form | default |\n|---|---|---|---|\n");
    for key in heading.keys {
        let name = format!("{}{}", ticked(key.name), if key.required { " *" } else { "" });
        row(&mut page, &[&name, key.meaning, &key.form.words(), key.default]);
    }
    page
}

/// Holds what stands below the mark of a document to `made`, or rewrites it.
fn hold(path: &str, made: &str) {
    let document = text(path).unwrap_or_else(|| {
        panic!("{path} is missing; write its head, ending with this line:\n{MARK}")
    });
    let Some((head, there)) = document.split_once(MARK) else {
        panic!("{path} lacks the line that parts its head from the rest:\n{MARK}");
    };
    let made = format!("\n\n{made}");
    if blessing() {
        if there != made {
            fs::write(root().join(path), format!("{head}{MARK}{made}")).unwrap();
        }
        return;
    }
    let lines = head.lines().count();
    if let Some(difference) = first_difference(there.as_bytes(), made.as_bytes()) {
        panic!(
            "{path} is not what the code says; counted from line {lines}, {difference}\nRun: BLESS=1 cargo test --test suite reference"
        );
    }
}

fn findings() -> String {
    let mut page = String::from("| code | level | meaning |\n|---|---|---|\n");
    for code in Code::ALL {
        row(&mut page, &[&ticked(code.word()), code.level().word(), code.meaning()]);
    }
    page
}

fn fields() -> String {
    let mut page = String::from(
        "## Fields\n\n| id | label | unit | in sidecar and record | meaning |\n|---|---|---|---|---|\n",
    );
    for field in Field::ALL {
        let names = [ticked(field.id()), ticked(&field.camel())];
        row(&mut page, &[&names[0], field.label(), field.unit(), &names[1], field.meaning()]);
    }
    page.push_str("\n## Sides of a field\n\n| written as | shows |\n|---|---|\n");
    for (facet, word) in Facet::ALL {
        let (written, shows) = match facet {
            Facet::Value => (ticked("focal-length"), "the value itself"),
            Facet::Uncertainty => (example(word), "its standard uncertainty, in the field's unit"),
            Facet::Basis => {
                (example(word), "how it is known: nominal, measured, assumed or recorded")
            }
            Facet::Verdict => {
                (example(word), "what became of it: filled, scaled, kept, replaced or unresolved")
            }
            Facet::Recorded => (example(word), "what the media recorded"),
            Facet::Reason => (example(word), "why, in words"),
        };
        row(&mut page, &[&written, shows]);
    }
    page
}

fn example(word: &str) -> String {
    ticked(&format!("focal-length.{word}"))
}

fn ticked(word: &str) -> String {
    format!("`{word}`")
}

fn row(page: &mut String, cells: &[&str]) {
    // A bar would end the cell.
    let cells: Vec<String> = cells.iter().map(|cell| cell.replace('|', "\\|")).collect();
    writeln!(page, "| {} |", cells.join(" | ")).unwrap();
}
