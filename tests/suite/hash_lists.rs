//! Hash lists as readers see them: manifests, chains and plain lists, good, broken and hostile.

use std::path::{Path, PathBuf};

use lensmend::seal::digest::{Hashing, Kind, digest};
use lensmend::seal::{chain, manifest, sums};
use proptest::prelude::*;

/// A manifest with these records and patterns.
pub(crate) fn manifest_of(hashes: &str, ignore: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<hashlist version=\"2.0\" xmlns=\"urn:ASC:MHL:v2.0\">\n\
         <creatorinfo><creationdate>2026-11-14T18:00:00Z</creationdate><hostname>cart</hostname>\
         <tool version=\"1\">offload</tool></creatorinfo>\n\
         <processinfo><process>in-place</process><ignore>{ignore}</ignore></processinfo>\n\
         <hashes>{hashes}</hashes>\n</hashlist>\n"
    )
}

fn record(path: &str, rest: &str) -> String {
    format!("<hash><path size=\"3\">{path}</path>{rest}</hash>")
}

const MD5: &str = "<md5 action=\"original\">900150983CD24FB0D6963F7D28E17F72</md5>";

#[test]
fn a_manifest_says_files_sizes_hashes_and_what_it_passes_over() {
    let records = [
        record("A003/a &amp; b.mov", MD5),
        record(
            "A003/c.mov",
            "<c4 action=\"failed\">no hash at all</c4><xxh64 action=\"verified\">44bc2cf5ad770999</xxh64><xxh32>1</xxh32>\
             <previousPath>c-old.mov</previousPath><metadata><hash xmlns=\"else\"><path>/etc</path></hash></metadata>",
        ),
        "<directoryhash><path>A003</path><content><md5>x</md5></content></directoryhash>"
            .to_owned(),
    ];
    let text =
        manifest_of(&records.concat(), "<pattern>.DS_Store</pattern><pattern>*.tmp</pattern>");
    let read = manifest::parse(text.as_bytes()).unwrap();
    assert_eq!(read.tool, "offload");
    assert_eq!(read.ignore, [".DS_Store", "*.tmp"]);
    assert_eq!(read.complaints, (vec![], 0));
    let [first, second] = read.records.as_slice() else { panic!("{:?}", read.records) };
    assert_eq!((first.path.as_path(), first.size), (Path::new("A003/a & b.mov"), Some(3)));
    // RFC 1321, A.5: "abc".
    assert_eq!(first.hashes, [(Kind::Md5, "900150983cd24fb0d6963f7d28e17f72".to_owned())]);
    assert_eq!(second.hashes, [(Kind::Xxh64, "44bc2cf5ad770999".to_owned())]);
    assert_eq!(second.previous.as_deref(), Some(Path::new("c-old.mov")));
    // The xxHash specification's own implementation gives this of "abc" with seed 0 (from memory).
    assert_eq!(digest(Kind::Xxh64, b"abc"), "44bc2cf5ad770999");
}

#[test]
fn paths_that_lead_out_are_complained_of_and_not_followed() {
    for path in ["/etc/passwd", "../out.mov", "A/../../out.mov", "", ".", "a/\u{0}b"] {
        let text = manifest_of(&(record(path, MD5) + &record("in.mov", MD5)), "");
        // XML has no way to write a NUL; readers that let it through must not let it further.
        if let Ok(read) = manifest::parse(text.as_bytes()) {
            assert_eq!(read.records.len(), 1, "{path:?}");
            assert_eq!(read.records[0].path, Path::new("in.mov"), "{path:?}");
            assert_eq!(read.complaints.1, 1, "{path:?}");
        }
    }
    let many = (0..500).map(|at| record(&format!("../{at}"), MD5)).collect::<String>();
    let read = manifest::parse(manifest_of(&many, "").as_bytes()).unwrap();
    assert_eq!((read.complaints.0.len(), read.complaints.1), (8, 500));
}

#[test]
fn a_hash_that_is_none_is_complained_of() {
    let text = manifest_of(&record("a.mov", "<md5>12</md5><sha1>zz</sha1>"), "");
    let read = manifest::parse(text.as_bytes()).unwrap();
    assert_eq!((read.records[0].hashes.len(), read.complaints.1), (0, 1));
}

#[test]
fn hostile_xml_is_refused_in_bounds() {
    let whole = manifest_of(&record("a.mov", MD5), "");
    let deep = "<x>".repeat(100_000);
    let attributes = " a=\"\"".repeat(100_000);
    let cases = [
        ("nothing", String::new()),
        ("no xml", "not a list".to_owned()),
        ("another root", "<html xmlns=\"urn:ASC:MHL:v2.0\"/>".to_owned()),
        ("another namespace", whole.replace("MHL:v2.0", "MHL:v9.0")),
        (
            "entities of its own",
            format!("<!DOCTYPE hashlist [<!ENTITY a \"ha\"><!ENTITY b \"&a;&a;\">]>{whole}"),
        ),
        ("an unknown entity", whole.replace("a.mov", "&lol;")),
        ("too deep", whole.replace("<hashes>", &format!("<hashes>{deep}"))),
        ("too many attributes", whole.replace("<hashes>", &format!("<hashes{attributes}>"))),
        ("too long a text", whole.replace("a.mov", &"a".repeat(1 << 20))),
        (
            "too long an attribute",
            whole.replace("size=\"3\"", &format!("size=\"{}\"", "3".repeat(1 << 20))),
        ),
        (
            "too many patterns",
            whole.replace("<ignore>", &format!("<ignore>{}", "<pattern>*.a</pattern>".repeat(300))),
        ),
        (
            "too long a pattern",
            whole.replace("<ignore>", &format!("<ignore><pattern>{}</pattern>", "*?".repeat(2000))),
        ),
        ("tags that do not match", whole.replace("</hashes>", "</hashed>")),
        ("cut off", whole[..whole.len() - 20].to_owned()),
    ];
    for (what, text) in cases {
        assert!(manifest::parse(text.as_bytes()).is_err(), "{what}");
    }
    assert!(manifest::parse(b"<hashlist xmlns=\"urn:ASC:MHL:v2.0\">\xff</hashlist>").is_err());
    for end in 0..whole.trim_end().len() {
        assert!(manifest::parse(&whole.as_bytes()[..end]).is_err(), "cut at {end}");
    }
}

#[test]
fn chains_count_one_by_one_and_stay_in_their_folder() {
    let c4 = digest(Kind::C4, b"manifest");
    let link = |number: &str, path: &str, hash: &str| {
        format!("<hashlist sequencenr=\"{number}\"><path>{path}</path><c4>{hash}</c4></hashlist>")
    };
    let chain = |links: &str| {
        let text = format!(
            "<ascmhldirectory xmlns=\"urn:ASC:MHL:DIRECTORY:v2.0\">{links}</ascmhldirectory>"
        );
        chain::parse(text.as_bytes())
    };
    let good = chain(&(link("1", "0001_a.mhl", &c4) + &link("2", "0002_a.mhl", &c4))).unwrap();
    assert_eq!(good.len(), 2);
    assert_eq!((good[1].number, good[1].file.as_str()), (2, "0002_a.mhl"));
    for bad in [
        link("2", "0001_a.mhl", &c4),
        link("", "0001_a.mhl", &c4),
        link("1", "0001_a.mhl", "c4short"),
        link("1", "../0001_a.mhl", &c4),
        link("1", "/etc/passwd", &c4),
        link("1", "", &c4),
        link("1", "0001_a.mhl", &c4).repeat(2),
    ] {
        assert!(chain(&bad).is_err(), "{bad}");
    }
}

/// Forms of the GNU Coreutils manual, "md5sum invocation".
#[test]
fn plain_lists_come_in_the_forms_of_checksum_programs() {
    let md5 = "900150983cd24fb0d6963f7d28e17f72";
    let xxh3 = "78af5f94892f3950";
    let cases = [
        (format!("{md5}  A003/a.mov"), Kind::Md5, "card/A003/a.mov"),
        (format!("{md5} *./A003/a b.mov\r"), Kind::Md5, "card/A003/a b.mov"),
        (format!("\\{md5}  a\\\\b\\n.mov"), Kind::Md5, "card/a\\b\n.mov"),
        (format!("{}  A003\\a.mov", md5.to_uppercase()), Kind::Md5, "card/A003/a.mov"),
        (format!("MD5 (a (1).mov) = {md5}"), Kind::Md5, "card/a (1).mov"),
        (format!("XXH3_{xxh3}  a.mov"), Kind::Xxh3, "card/a.mov"),
        (md5.to_owned(), Kind::Md5, "card/a.mov"),
    ];
    for (line, kind, file) in cases {
        let list = Path::new("card/a.mov.md5");
        let text = format!("# made on set\n\n{line}\n");
        let read = sums::parse(list, Kind::Md5, text.as_bytes());
        assert_eq!(read.complaints.1, 0, "{line}: {:?}", read.complaints);
        let [(path, found, value)] = read.files.as_slice() else { panic!("{line}") };
        let path: PathBuf = Path::new("card").join(path);
        assert_eq!((path.as_path(), *found), (Path::new(file), kind), "{line}");
        assert_eq!(value, if kind == Kind::Md5 { md5 } else { xxh3 }, "{line}");
    }
    let bad = format!("{md5}  /etc/passwd\n{md5}  ../a.mov\nhello\n12  a.mov\n");
    let read = sums::parse(Path::new("a.md5"), Kind::Md5, bad.as_bytes());
    assert_eq!((read.files.len(), read.complaints.1), (0, 4), "{read:?}");
    for (name, kind) in [
        ("a.md5", Some(Kind::Md5)),
        ("A.SHA1", Some(Kind::Sha1)),
        ("SHA256SUMS", Some(Kind::Sha256)),
        ("a.xxh128", Some(Kind::Xxh128)),
        ("a.mov", None),
        ("md5", Some(Kind::Md5)),
    ] {
        assert_eq!(sums::kind_of(Path::new(name)), kind, "{name}");
    }
}

proptest! {
    #[test]
    fn no_bytes_make_a_reader_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400), text in "[<>/a-z\"'= &;!\\[\\]?]{0,200}") {
        for bytes in [bytes.as_slice(), text.as_bytes()] {
            let _ = manifest::parse(bytes);
            let _ = chain::parse(bytes);
            let whole = manifest_of(&String::from_utf8_lossy(bytes), "");
            let _ = manifest::parse(whole.as_bytes());
            for kind in Kind::SEALED {
                sums::parse(Path::new("a.list"), kind, bytes);
            }
        }
    }

    /// Bytes that come in any pieces have the hash of the whole.
    #[test]
    fn pieces_do_not_change_a_hash(bytes in proptest::collection::vec(any::<u8>(), 0..3000), piece in 1usize..700) {
        let mut hashing = Hashing::new(Kind::SEALED);
        bytes.chunks(piece).for_each(|piece| hashing.update(piece));
        for (kind, value) in hashing.finish() {
            prop_assert_eq!(&value, &digest(kind, &bytes));
            prop_assert_eq!(kind.value(&value), Some(value));
        }
    }
}
