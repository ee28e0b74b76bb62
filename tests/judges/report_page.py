"""The pages of camera reports in a real browser: Debian's Chromium, driven by Playwright; axe-core looks at accessibility,
pypdf reads what was printed. One object a page, in their order.

With LENSMEND_SHOTS set to a folder, pictures of each page are left there: light, dark, phone, print.
"""

import io
import json
import os
import pathlib
import shutil
import sys

import axe_playwright_python
from playwright.sync_api import sync_playwright
from pypdf import PdfReader

AXE = (pathlib.Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
# Rules of WCAG 2.0 to 2.2 at levels A and AA, and axe's own best practices.
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PHONE = {"width": 390, "height": 844}
WIDE = {"width": 1400, "height": 1000}
# Reflow is asked for down to 320 CSS pixels (WCAG 2.2, 1.4.10).
NARROW = {"width": 320, "height": 640}

# Every clip with its lines, cell by cell, as a reader sees them.
CLIPS = """() => [...document.querySelectorAll("table.clips")].map((table) => ({
  heading: table.closest("section").querySelector("h3").innerText,
  columns: [...table.tHead.rows[table.tHead.rows.length - 1].cells].map((cell) => cell.textContent.trim()),
  clips: [...table.tBodies].filter((body) => body.checkVisibility()).map((body) => ({
    name: body.rows[0].cells[0].firstChild.textContent.trim(),
    lines: [...body.rows].filter((row) => !row.classList.contains("below")).map((row) =>
      [...row.cells].map((cell) => [...cell.childNodes].map((node) => node.textContent.trim()).filter(Boolean))),
    below: [...body.rows].filter((row) => row.classList.contains("below")).map((row) => row.textContent.trim()),
  })),
}))"""

NAMES = """() => [...document.querySelectorAll("table.clips")].map((table) =>
  [...table.tBodies].filter((body) => !body.hidden).map((body) => body.rows[0].cells[0].firstChild.textContent.trim()))"""

# How far the page is wider than its window, and what sticks out of it.
TOO_WIDE = """() => {
  const root = document.documentElement, over = root.scrollWidth - root.clientWidth;
  const out = [...document.body.querySelectorAll("*")].filter((e) => e.getBoundingClientRect().right > root.clientWidth + 1
    && !e.closest("thead, .unseen, figure *"));
  return { over, out: out.slice(0, 5).map((e) => e.outerHTML.slice(0, 120)) };
}"""

SMUGGLED = """() => ({
  ran: window.pwned === undefined ? null : String(window.pwned),
  scripts: document.scripts.length,
  foreign: document.querySelectorAll("img, iframe, object, embed, link, audio, video, base, svg script, [onerror], [onload], [onclick]").length,
  steering: /[\\u0000-\\u0008\\u000b\\u000c\\u000e-\\u001f\\u007f-\\u009f\\u061c\\u200e\\u200f\\u2028-\\u202e\\u2066-\\u2069]/.test(document.documentElement.textContent),
})"""


def heard(page, said):
    """Writes down everything that a quiet page does not do."""
    page.on("console", lambda message: said["console"].append(message.text))
    page.on("pageerror", lambda error: said["console"].append(str(error)))
    page.on("dialog", lambda dialog: (said["dialogs"].append(dialog.message), dialog.dismiss()))
    page.on("request", lambda request: said["requests"].append(request.url))


def axe(page):
    page.evaluate(AXE)
    found = page.evaluate("(tags) => axe.run(document, { runOnly: tags })", TAGS)
    return [
        {"rule": v["id"], "help": v["help"], "nodes": [n["html"][:200] for n in v["nodes"][:3]]}
        for v in found["violations"]
    ]


def sorting(page):
    """Sorts by every column through the list, then by a head with the keyboard alone, up and down."""
    asked = page.locator("#sort")
    values = asked.locator("option").evaluate_all("options => options.map((o) => [o.value, o.textContent])")
    before = page.evaluate(NAMES)
    orders = {}
    for value, label in values:
        asked.select_option(value)
        orders[label] = page.evaluate(NAMES)
    asked.select_option("")
    again = page.evaluate(NAMES)
    button = page.locator("table.clips thead button.h").first
    keyboard = []
    if button.count():
        for _ in range(2):
            button.focus()
            page.keyboard.press("Enter")
            keyboard.append(
                [page.evaluate(NAMES), page.locator("table.clips thead th[aria-sort]").first.get_attribute("aria-sort")]
            )
    asked.select_option("")
    return {"before": before, "orders": orders, "again": again, "keyboard": keyboard}


def filtering(page):
    found = {}
    first = page.locator("table.clips tbody.clip").first
    name = first.evaluate("(body) => body.rows[0].cells[0].firstChild.textContent.trim()")
    for kind in ["circled", "matter"]:
        page.locator("#only").select_option(kind)
        found[kind] = page.evaluate(NAMES)
    page.locator("#only").select_option("")
    page.locator("#find").fill(name.lower())
    found["name"] = [name, page.evaluate(NAMES), page.locator("#shown").inner_text()]
    page.locator("#find").fill("nothing is called this")
    found["nothing"] = [page.evaluate(NAMES), page.locator("#shown").inner_text()]
    page.locator("#find").fill("")
    found["all"] = [page.evaluate(NAMES), page.locator("#shown").inner_text()]
    return found


def printed(page, shots, name):
    """Sheets as the page asks for them: their size in points and their words."""
    bytes_ = page.pdf(prefer_css_page_size=True, print_background=False)
    if shots:
        (shots / f"{name}-print.pdf").write_bytes(bytes_)
    sheets = PdfReader(io.BytesIO(bytes_)).pages
    return [
        {"size": [float(sheet.mediabox.width), float(sheet.mediabox.height)], "text": sheet.extract_text()}
        for sheet in sheets
    ]


def look(browser, file, shots):
    url, name = file.resolve().as_uri(), file.parent.name + "-" + file.stem
    said = {"file": str(file), "console": [], "dialogs": [], "requests": []}

    bare = browser.new_context(java_script_enabled=False, viewport=WIDE)
    page = bare.new_page()
    heard(page, said)
    page.goto(url)
    # Playwright's own questions run in a world of their own, scripts or not.
    said["bare"] = page.evaluate(CLIPS)
    said["toolsWithoutScripts"] = page.locator("#tools").is_visible()
    bare.close()

    said["axe"] = {}
    for scheme in ["light", "dark"]:
        context = browser.new_context(viewport=WIDE, color_scheme=scheme)
        page = context.new_page()
        heard(page, said)
        page.goto(url)
        if shots:
            page.screenshot(path=shots / f"{name}-{scheme}.png", full_page=True)
        said["axe"][scheme] = axe(page)
        said["smuggled"] = page.evaluate(SMUGGLED)
        page.set_viewport_size(PHONE)
        said[f"phone-{scheme}"] = page.evaluate(TOO_WIDE)
        if shots:
            page.screenshot(path=shots / f"{name}-phone-{scheme}.png", full_page=True)
        said["axe"][f"phone {scheme}"] = axe(page)
        page.set_viewport_size(NARROW)
        said[f"narrow-{scheme}"] = page.evaluate(TOO_WIDE)
        context.close()

    context = browser.new_context(viewport=WIDE)
    page = context.new_page()
    heard(page, said)
    page.goto(url)
    said["toolsWithScripts"] = page.locator("#tools").is_visible()
    said["title"] = page.title()
    said["language"] = page.evaluate("document.documentElement.lang")
    said["sorting"] = sorting(page)
    said["filtering"] = filtering(page)
    said["sheets"] = printed(page, shots, name)
    context.close()
    return said


def main():
    chromium = shutil.which("chromium")
    if chromium is None:
        sys.exit("there is no chromium; Debian's package of that name brings it")
    shots = os.environ.get("LENSMEND_SHOTS")
    shots = pathlib.Path(shots) if shots else None
    files = [pathlib.Path(argument) for argument in sys.argv[1:]]
    with sync_playwright() as playwright:
        # In a container there is no sandbox for root; nothing but pages of our own is opened.
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-dev-shm-usage"])
        print(json.dumps([look(browser, file, shots) for file in files]))
        browser.close()


main()
