//! Sidecars of other programs, written for these tests: the shapes that RDF/XML (W3C, 2014) and XMP (ISO 16684-1, 7) allow,
//! some that only older programs write, and every spelling of text that XML allows.

/// The namespaces that most of them declare; `c` is an invented program's own.
const SPACES: &str = "xmlns:dc='http://purl.org/dc/elements/1.1/' xmlns:xmp='http://ns.adobe.com/xap/1.0/' \
    xmlns:xmpDM='http://ns.adobe.com/xmp/1.0/DynamicMedia/' xmlns:exif='http://ns.adobe.com/exif/1.0/' \
    xmlns:xmpMM='http://ns.adobe.com/xap/1.0/mm/' xmlns:stEvt='http://ns.adobe.com/xap/1.0/sType/ResourceEvent#' \
    xmlns:c='https://corbel.invalid/log/1.0/'";
const RDF: &str = "http://www.w3.org/1999/02/22-rdf-syntax-ns#";

fn rdf(body: &str) -> String {
    format!("<rdf:RDF xmlns:rdf='{RDF}'>\n  {body}\n </rdf:RDF>")
}

fn meta(body: &str) -> String {
    format!(
        "<x:xmpmeta xmlns:x='adobe:ns:meta/' x:xmptk='Umber Log 2'>\n {}\n</x:xmpmeta>\n",
        rdf(body)
    )
}

/// A description with the usual namespaces and this content.
fn of(content: &str) -> String {
    format!("<rdf:Description rdf:about='' {SPACES}>{content}</rdf:Description>")
}

fn wide(text: &str, unit: fn(u16) -> [u8; 2], mark: bool) -> Vec<u8> {
    let mark = if mark { "\u{feff}" } else { "" };
    mark.encode_utf16().chain(text.encode_utf16()).flat_map(unit).collect()
}

/// Every shape with its name.
#[expect(clippy::too_many_lines, reason = "a table")]
pub(crate) fn shapes() -> Vec<(&'static str, Vec<u8>)> {
    let attributes = format!(
        "<rdf:Description rdf:about='' {SPACES} xmp:Rating='4' xmp:Label=\"Sel &quot;A&quot;\" c:mood='calm'/>"
    );
    let elements = of("\n   <xmp:Rating>4</xmp:Rating>\n   <c:mood>calm</c:mood>\n  ");
    let dated =
        of("<xmp:MetadataDate>2020-01-01T00:00:00Z</xmp:MetadataDate><xmp:Rating>2</xmp:Rating>");
    let wrapped = |kind: &str| {
        let begin = "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>";
        format!("{begin}\n{}{}\n<?xpacket end=\"{kind}\"?>", meta(&elements), " ".repeat(300))
    };
    let declared = |encoding: &str| {
        format!(
            "<?xml version=\"1.0\" encoding=\"{encoding}\"?>\n{}",
            meta(&of("<dc:source>Réel é</dc:source>"))
        )
    };
    let mut latin = Vec::new();
    for letter in declared("ISO-8859-1").chars() {
        latin.push(u8::try_from(u32::from(letter)).unwrap());
    }
    let deep = format!(
        "{}<c:leaf>x</c:leaf>{}",
        "<c:in rdf:parseType='Resource'>".repeat(12),
        "</c:in>".repeat(12)
    );
    let text = |name: &'static str, text: String| (name, text.into_bytes());
    vec![
        text("attributes", meta(&attributes)),
        text("elements", meta(&elements)),
        text(
            "attributes and elements",
            meta(&format!(
                "<rdf:Description rdf:about='' {SPACES}\n    xmp:Rating='3'\n    c:mood='odd'>\n   <dc:subject><rdf:Bag><rdf:li>harbour</rdf:li></rdf:Bag></dc:subject>\n  </rdf:Description>"
            )),
        ),
        text(
            "a description for each namespace",
            meta(
                &format!("{elements}\n  {}\n  {attributes}", of("<dc:source>x</dc:source>"))
                    .replace("xmp:Rating='4'", "")
                    .replace("c:mood='calm'", ""),
            ),
        ),
        text("packet that may be written", wrapped("w")),
        text("packet that may only be read", wrapped("r")),
        text("no x:xmpmeta", rdf(&elements)),
        text("an older root", meta(&elements).replace("x:xmpmeta", "x:xapmeta")),
        ("UTF-16, little end first", wide(&declared("UTF-16"), u16::to_le_bytes, true)),
        ("UTF-16, big end first", wide(&declared("UTF-16"), u16::to_be_bytes, true)),
        ("UTF-16 without mark", wide(&declared("UTF-16LE"), u16::to_le_bytes, false)),
        text("UTF-8 with mark", format!("\u{feff}{}", declared("UTF-8"))),
        ("ISO 8859-1", latin),
        text(
            "another prefix for RDF",
            meta(&elements).replace("rdf:", "r:").replace("xmlns:rdf", "xmlns:r"),
        ),
        text(
            "RDF without prefix",
            format!(
                "<RDF xmlns='{RDF}'><Description xmlns:r='{RDF}' r:about='' xmlns:c='https://corbel.invalid/log/1.0/' c:mood='calm'/></RDF>"
            ),
        ),
        text(
            "prefixes that mean something else",
            meta(
                "<rdf:Description rdf:about='' xmlns:exif='https://corbel.invalid/a/' xmlns:lensmend='https://corbel.invalid/b/' exif:FNumber='9/1'><lensmend:clip>not this</lensmend:clip></rdf:Description>",
            ),
        ),
        text(
            "known namespaces under other prefixes",
            meta(
                "<rdf:Description rdf:about='' xmlns:e='http://ns.adobe.com/exif/1.0/' e:UserComment='x'><e:Flash>0</e:Flash></rdf:Description>",
            ),
        ),
        text(
            "comments and instructions",
            meta(&format!(
                "<!-- a --><?keep this?>{}<!-- b -->",
                of("<!-- c --><c:mood><!-- d -->calm</c:mood><?and that?>")
            )),
        ),
        text(
            "character data and references",
            meta(&of("<c:mood><![CDATA[a<b & c]]></c:mood><c:sign>&#x1F3A5;&lt;&#10;</c:sign>")),
        ),
        text(
            "structures as resources",
            meta(&of(
                "<c:place rdf:parseType='Resource'><c:town>Saltmarsh</c:town><c:spot rdf:parseType='Resource'><c:row>2</c:row></c:spot></c:place>",
            )),
        ),
        text(
            "structures as descriptions",
            meta(&of(
                "<c:place><rdf:Description><c:town>Saltmarsh</c:town></rdf:Description></c:place><c:two><rdf:Description c:a='1' c:b='2'/></c:two>",
            )),
        ),
        text("structures as attributes", meta(&of("<c:place c:town='Saltmarsh' c:row='2'/>"))),
        text(
            "lists and languages",
            meta(&of(
                "<dc:creator><rdf:Seq><rdf:li>K.</rdf:li><rdf:li>M.</rdf:li></rdf:Seq></dc:creator><dc:description><rdf:Alt><rdf:li xml:lang='x-default'>Harbour</rdf:li><rdf:li xml:lang='de'>Hafen</rdf:li></rdf:Alt></dc:description>",
            )),
        ),
        text(
            "values with qualifiers",
            meta(&of(
                "<c:mood rdf:parseType='Resource'><rdf:value>calm</rdf:value><c:by>K.</c:by></c:mood>",
            )),
        ),
        text("addresses", meta(&of("<c:see rdf:resource='https://corbel.invalid/take/7'/>"))),
        text(
            "XML as a value",
            meta(&of("<c:mark rdf:parseType='Literal'><b xmlns=''>bold</b></c:mark>")),
        ),
        text(
            "another subject",
            meta(
                &elements.replace("about=''", "about='uuid:0f6c1d2e-0000-4000-8000-000000000007'"),
            ),
        ),
        text(
            "two subjects",
            meta(&format!(
                "{elements}{}",
                of("<exif:FNumber>22/1</exif:FNumber>").replace("about=''", "about='uuid:other'")
            )),
        ),
        text("no subject", meta(&elements.replace(" rdf:about=''", ""))),
        text("lines that end in two characters", meta(&elements).replace('\n', "\r\n")),
        text("one line", meta(&elements).replace('\n', "")),
        text("empty RDF", meta("").replace(">\n  \n </rdf:RDF>", "/>")),
        text("RDF with nothing in it", meta("")),
        text("an empty description", meta("<rdf:Description rdf:about=''/>")),
        text("an older date", meta(&dated)),
        text(
            "an older date as attribute",
            meta(&attributes.replace("c:mood", "xmp:MetadataDate='2020-01-01' c:mood")),
        ),
        text(
            "history",
            meta(&of(
                "<xmpMM:DocumentID>xmp.did:7</xmpMM:DocumentID><xmpMM:History><rdf:Seq><rdf:li stEvt:action='saved' stEvt:when='2020-01-01T00:00:00Z'/></rdf:Seq></xmpMM:History>",
            )),
        ),
        text("deep structures", meta(&of(&deep))),
        text("a long value", meta(&of(&format!("<c:cube>{}</c:cube>", "QUJD".repeat(40_000))))),
        text(
            "namespaces where they are used",
            meta(
                "<rdf:Description rdf:about=''><n:a xmlns:n='https://corbel.invalid/n/'>1</n:a><n:a xmlns:n='https://corbel.invalid/m/'>2</n:a></rdf:Description>",
            ),
        ),
        text(
            "values of its own for the lens",
            meta(&of(
                "<exif:FNumber>28/10</exif:FNumber><exif:FocalLength>50/1</exif:FocalLength><xmpDM:scene>24A</xmpDM:scene>",
            )),
        ),
        text(
            "an odd declaration",
            format!(
                "<?xml version='1.0' standalone='yes'?>\n<!-- head -->\n{}<!-- tail -->\n",
                meta(&elements)
            ),
        ),
    ]
}

/// Files that are no whole XMP, or want to cost more than they are worth.
pub(crate) fn broken() -> Vec<(&'static str, Vec<u8>)> {
    let whole = meta(&of("<c:mood>calm</c:mood>"));
    let text = |name: &'static str, text: String| (name, text.into_bytes());
    let bomb = {
        let mut entities = String::from("<!DOCTYPE x [<!ENTITY a0 'ha'>");
        for level in 1..30 {
            let many = format!("&a{};", level - 1).repeat(10);
            entities.extend(["<!ENTITY a", &level.to_string(), " '", &many, "'>"]);
        }
        format!("{entities}]>{}", whole.replace("calm", "&a29;"))
    };
    let spaces = |count: usize| -> String {
        let each = |at| format!(" xmlns:n{at}='https://corbel.invalid/{at}/'");
        (0..count).map(each).collect::<Vec<_>>().concat()
    };
    vec![
        text("nothing", String::new()),
        text("words", "somebody's own".into()),
        ("noise", (0..4000_u32).map(|at| u8::try_from(at * 7919 % 251).unwrap()).collect()),
        text("cut off", whole[..whole.len() / 2].into()),
        text("tags that do not match", whole.replace("</c:mood>", "</c:mode>")),
        text("a stray ampersand", whole.replace("calm", "calm & loud")),
        text("a prefix that nobody declared", whole.replace("c:mood", "d:mood")),
        text("an attribute twice", whole.replace("rdf:about=''", "rdf:about='' rdf:about=''")),
        text("a character that XML does not have", whole.replace("calm", "ca\u{1}lm")),
        text("two roots", format!("{whole}{whole}")),
        text(
            "two packets in one",
            whole.replace("</x:xmpmeta>", &format!("{}</x:xmpmeta>", rdf(""))),
        ),
        text("other XML", "<log><take>7</take></log>".into()),
        text("entities that multiply", bomb),
        text(
            "an entity from outside",
            format!(
                "<!DOCTYPE x [<!ENTITY e SYSTEM 'file:///etc/passwd'>]>{}",
                whole.replace("calm", "&e;")
            ),
        ),
        text(
            "deep nesting",
            whole.replace(
                "calm",
                &format!("{}{}", "<c:a>".repeat(100_000), "</c:a>".repeat(100_000)),
            ),
        ),
        text(
            "a great many attributes",
            whole.replace(
                "<c:mood>",
                &format!(
                    "<c:mood{}>",
                    (0..60_000).map(|at| format!(" a{at}=''")).collect::<Vec<_>>().concat()
                ),
            ),
        ),
        text(
            "a great many namespaces",
            whole.replace("<c:mood>", &format!("<c:mood{}>", spaces(5000))),
        ),
        text("namespaces that pile up", {
            let each = |at| format!("<c:a{}>", spaces(20).replace(":n", &format!(":m{at}x")));
            let open = (0..40).map(each).collect::<Vec<_>>().concat();
            whole.replace("calm", &format!("{open}{}", "</c:a>".repeat(40)))
        }),
        ("half a letter", {
            let mut bytes = wide(&whole, u16::to_le_bytes, true);
            bytes.pop();
            bytes
        }),
        (
            "letters that are none",
            whole
                .replace("calm", "ca?lm")
                .bytes()
                .map(|byte| if byte == b'?' { 0xff } else { byte })
                .collect(),
        ),
        text("more than a sidecar holds", whole.replace("calm", &"calm ".repeat(1_800_000))),
        text("more elements than a sidecar has", whole.replace("calm", &"<c:a/>".repeat(300_000))),
    ]
}
