"""Checks PDF files below a folder: what PDF/UA-1 asks of structure, language, title, words for pictures, and fonts.

It reads the files with qpdf's library, and so through other eyes than those that wrote them.
"""

import pathlib
import sys

import pikepdf


def walk(element, found):
    """Counts structure elements by type, and keeps those that need words."""
    stack = [element]
    while stack:
        node = stack.pop()
        if isinstance(node, pikepdf.Array):
            stack.extend(reversed(list(node)))
            continue
        if not isinstance(node, pikepdf.Dictionary):
            continue
        kind = str(node.get("/S", ""))
        if kind:
            found.append((kind, str(node.get("/Alt", "")), node))
        if "/K" in node:
            stack.append(node["/K"])


def check(path):
    wrong = []
    with pikepdf.open(path) as pdf:
        wrong += [f"damaged: {problem}" for problem in pdf.check_pdf_syntax()]
        root = pdf.Root
        if not bool(root.get("/MarkInfo", {}).get("/Marked", False)):
            wrong.append("not marked as tagged")
        if not str(root.get("/Lang", "")):
            wrong.append("no language")
        if not bool(root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False)):
            wrong.append("the title is not shown")
        with pdf.open_metadata() as meta:
            if not meta.get("dc:title"):
                wrong.append("no title")
            if str(meta.get("pdfuaid:part", "")) != "1":
                wrong.append("does not say that it is PDF/UA-1")
        if "/CreationDate" in pdf.docinfo or "/ModDate" in pdf.docinfo:
            wrong.append("carries a date, so that its bytes change")
        found = []
        walk(root["/StructTreeRoot"], found)
        for kind, alt, _ in found:
            if kind in ("/Formula", "/Figure") and not alt.strip():
                wrong.append(f"a {kind} without words")
        levels = [int(kind[2:]) for kind, _, _ in found if kind[:2] == "/H" and kind[2:].isdigit()]
        if not levels or levels[0] != 1:
            wrong.append("does not begin with a heading of the first level")
        for before, after in zip(levels, levels[1:]):
            if after > before + 1:
                wrong.append(f"a heading of level {after} follows one of level {before}")
        kinds = {kind for kind, _, _ in found}
        if "/Table" in kinds and "/TH" not in kinds:
            wrong.append("a table without header cells")
        for number, page in enumerate(pdf.pages, 1):
            # A blank page between two papers of a packet has head and foot alone, which no structure holds.
            page.contents_coalesce()
            if "/StructParents" not in page and b"/MCID" in page.Contents.read_bytes():
                wrong.append(f"page {number} has no structure")
            if str(page.get("/Tabs", "")) not in ("/S", ""):
                wrong.append(f"page {number} is not read in the order of its structure")
            for font in page.resources.get("/Font", {}).values():
                descendants = font.get("/DescendantFonts", [font])
                descriptor = descendants[0].get("/FontDescriptor", {})
                if not any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")):
                    wrong.append(f"page {number}: a font is not embedded")
                if "/ToUnicode" not in font:
                    wrong.append(f"page {number}: a font's letters can't be read")
        formulas = sum(kind == "/Formula" for kind, _, _ in found)
        return len(pdf.pages), formulas, wrong


def main():
    files = sorted(pathlib.Path(sys.argv[1]).rglob("*.pdf"))
    pages = formulas = failed = 0
    for path in files:
        more, of_file, wrong = check(path)
        pages += more
        formulas += of_file
        for what in sorted(set(wrong)):
            print(f"{path}: {what}", file=sys.stderr)
        failed += bool(wrong)
    print(f"{len(files) - failed} passed, {failed} failed: PDF files of {pages} pages with {formulas} formulas")
    if failed or not files:
        sys.exit(1)


main()
