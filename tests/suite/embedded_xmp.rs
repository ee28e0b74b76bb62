//! XMP packets inside media files: every layout that RDF allows, and nothing that only looks like one.

use crate::boxes::{Clip, packet, part, with_packet};
use crate::headers::recorded;

#[test]
fn xmp_in_any_layout() {
    let layouts = [
        "<rdf:Description rdf:about='' e:FocalLength='355/10' e:FNumber='28/10' tiff:Make='Sorrel'/>",
        "<rdf:Description rdf:about=''><e:FocalLength>355/10</e:FocalLength><e:FNumber> 28/10 </e:FNumber><tiff:Make>Sor&#114;el</tiff:Make></rdf:Description>",
        "<rdf:Description><e:FocalLength rdf:parseType='Resource'><rdf:value>355/10</rdf:value><fake:note>x</fake:note></e:FocalLength></rdf:Description><rdf:Description e:FNumber='28/10'><tiff:Make><![CDATA[Sorrel]]></tiff:Make></rdf:Description>",
        "<rdf:Description tiff:Make='Sorrel'><e:FocalLength><rdf:Description rdf:value='355/10'/></e:FocalLength><e:FNumber><rdf:Description><rdf:value>28/10</rdf:value></rdf:Description></e:FNumber></rdf:Description>",
    ];
    for layout in layouts {
        let (r, findings) = recorded(&with_packet(&packet(layout)));
        assert!(findings.is_empty(), "{layout} {findings:?}");
        let focal = r.focal_length.expect(layout);
        let told = format!("{} {} {}", focal.value.get(), focal.half_step, focal.raw);
        assert_eq!(told, "35.5 0.05 355/10");
        assert_eq!(r.f_number.expect(layout).raw, "28/10");
        assert_eq!(r.maker.expect(layout).value, "Sorrel");
    }
}

#[test]
fn xmp_values_that_mean_unknown_or_infinity() {
    let read = |attributes: &str| {
        let body = format!("<rdf:Description {attributes}/>");
        recorded(&with_packet(&packet(&body))).0
    };
    for unknown in ["0/0", "0/1", "35/0", "0", "", "4294967295/1", "-35/1", "abc"] {
        let r = read(&format!("e:FocalLength='{unknown}' e:FNumber='{unknown}'"));
        assert_eq!((r.focal_length, r.f_number), (None, None), "{unknown}");
    }
    let far = read("e:SubjectDistance='4294967295/1'").focus_distance.unwrap();
    assert!(far.value.get().is_infinite());
    assert_eq!(read("e:SubjectDistance='0/1'").focus_distance, None);
    let apex = read("e:ApertureValue='3/1'").f_number.unwrap();
    assert!((apex.value.get() - 8f64.sqrt()).abs() < 1e-12);
    let both = read("e:ApertureValue='3/1' e:FNumber='2/1'").f_number.unwrap();
    assert_eq!(both.raw, "2/1");
    let lens = read("aux:Lens='old' ex:LensModel='new' ex:BodySerialNumber='7'");
    assert_eq!((lens.lens.unwrap().value, lens.serial.unwrap().value), ("new".into(), "7".into()));
}

#[test]
fn xmp_of_other_things_is_not_taken() {
    let bodies = [
        // A namespace that only borrows the prefix, a structure of another picture, a list.
        "<rdf:Description xmlns:exif='http://example.com/' exif:FNumber='28/10'/>",
        "<rdf:Description><xmpMM:Ingredients><rdf:Bag><rdf:li rdf:parseType='Resource'><e:FNumber>28/10</e:FNumber></rdf:li></rdf:Bag></xmpMM:Ingredients></rdf:Description>",
        "<rdf:Description><e:FNumber><rdf:Seq><rdf:li>28/10</rdf:li></rdf:Seq></e:FNumber></rdf:Description>",
    ];
    for body in bodies {
        let (r, findings) = recorded(&with_packet(&packet(body)));
        assert!(findings.is_empty(), "{findings:?}");
        assert_eq!(r.f_number, None, "{body}");
        assert_eq!(r.tags.len(), 1, "{body}");
    }
}

#[test]
fn xmp_stands_at_the_top_level_of_mp4() {
    let id = [
        0xBE, 0x7A, 0xCF, 0xCB, 0x97, 0xA9, 0x42, 0xE8, 0x9C, 0x71, 0x99, 0x94, 0x91, 0xE3, 0xAF,
        0xAC,
    ];
    let packet = packet("<rdf:Description e:FNumber='28/10'/>");
    let clip = Clip { top: part(b"uuid", &[&id[..], &packet].concat()), ..Clip::default() };
    let (r, _) = recorded(&clip.bytes());
    assert_eq!(r.f_number.unwrap().raw, "28/10");
}
