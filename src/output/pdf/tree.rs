//! What the marks of a document are to each other: headings, tables, rows, cells. A reading program goes by it.

use std::num::{NonZeroU16, NonZeroU32};

use krilla::geom::Rect;
use krilla::tagging::{
    BBox, Identifier, Node as Printed, TableHeaderScope, Tag, TagGroup, TagKind, TagTree,
};

/// What a part of the document is.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::output) enum Role {
    Section,
    /// A heading of a level from 1.
    Heading(u16, String),
    Paragraph,
    Table,
    TableHead,
    TableBody,
    Row,
    ColumnHead,
    RowHead,
    /// A cell over so many columns, with words for it where the printed ones do not say all.
    Cell(u32, Option<String>),
    /// A picture, the words that stand for it, the sheet it is on and its place there: left, top, right, bottom.
    Figure(String, usize, [f32; 4]),
}

/// A part of the document.
struct Node {
    role: Role,
    children: Vec<Child>,
}

enum Child {
    Node(Node),
    /// Number of the leaf.
    Leaf(usize),
}

/// Parts within parts, under way.
pub(super) struct Tree {
    /// The parts that are open, outermost first; never empty.
    open: Vec<Node>,
    root: Vec<Child>,
    leaves: usize,
}

impl Tree {
    pub(super) fn new() -> Self {
        Self { open: Vec::new(), root: Vec::new(), leaves: 0 }
    }

    pub(super) fn open(&mut self, role: Role) {
        self.open.push(Node { role, children: Vec::new() });
    }

    pub(super) fn close(&mut self) {
        if let Some(node) = self.open.pop() {
            self.push(Child::Node(node));
        }
    }

    /// A new leaf of the innermost part that is open.
    pub(super) fn leaf(&mut self) -> usize {
        let leaf = self.leaves;
        self.leaves += 1;
        self.push(Child::Leaf(leaf));
        leaf
    }

    pub(super) fn leaves(&self) -> usize {
        self.leaves
    }

    fn push(&mut self, child: Child) {
        match self.open.last_mut() {
            // Most parts have one child; room for four, as a vector takes it, would be most of the memory of a long report.
            Some(node) if node.children.is_empty() => {
                node.children.reserve_exact(1);
                node.children.push(child);
            }
            Some(node) => node.children.push(child),
            None => self.root.push(child),
        }
    }

    /// The tree of the document, with what each leaf is called there.
    pub(super) fn printed(mut self, language: &str, leaves: &[Option<Identifier>]) -> TagTree {
        while !self.open.is_empty() {
            self.close();
        }
        let mut tree = TagTree::new().with_lang(Some(language.to_owned()));
        for child in self.root {
            if let Some(node) = child.printed(leaves) {
                tree.push(node);
            }
        }
        tree
    }
}

impl Child {
    fn printed(self, leaves: &[Option<Identifier>]) -> Option<Printed> {
        let node = match self {
            Self::Leaf(leaf) => return Some(Printed::Leaf(leaves.get(leaf).copied().flatten()?)),
            Self::Node(node) => node,
        };
        let mut children = Vec::with_capacity(node.children.len());
        children.extend(node.children.into_iter().filter_map(|child| child.printed(leaves)));
        if children.is_empty() {
            return None;
        }
        Some(Printed::Group(TagGroup::with_children(kind(node.role), children)))
    }
}

fn kind(role: Role) -> TagKind {
    match role {
        Role::Section => Tag::Section.into(),
        Role::Heading(level, title) => {
            Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), Some(title)).into()
        }
        Role::Paragraph => Tag::P.into(),
        Role::Table => Tag::Table.into(),
        Role::TableHead => Tag::THead.into(),
        Role::TableBody => Tag::TBody.into(),
        Role::Row => Tag::TR.into(),
        Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
        Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
        Role::Cell(across, words) => {
            let across = NonZeroU32::new(across).filter(|across| across.get() > 1);
            Tag::TD.with_col_span(across).with_alt_text(words).into()
        }
        Role::Figure(words, sheet, [left, top, right, bottom]) => {
            let place = Rect::from_ltrb(left, top, right, bottom);
            let place = place.map(|place| BBox::new(sheet, place));
            Tag::Figure(Some(words)).with_bbox(place).into()
        }
    }
}
