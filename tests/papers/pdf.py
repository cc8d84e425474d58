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


def leaves(node, key):
    """The pairs of a tree of numbers or names, in order."""
    plain = bytes if key == "/Names" else int
    pairs = list(node.get(key, []))
    found = [(plain(name), to) for name, to in zip(pairs[::2], pairs[1::2])]
    for kid in node.get("/Kids", []):
        below = leaves(kid, key)
        if [below[0][0], below[-1][0]] != [plain(limit) for limit in kid.Limits]:
            raise ValueError(f"a leaf of {key} has other limits than it says")
        found += below
    keys = [name for name, _ in found]
    if keys != sorted(set(keys)):
        raise ValueError(f"keys of {key} do not rise")
    return found


def check_structure(pdf):
    """Pages lead to structure and structure leads to pages, and neither to a place that is not there."""
    wrong = []
    root = pdf.Root.StructTreeRoot
    try:
        parents = dict(leaves(root.get("/ParentTree", pikepdf.Dictionary()), "/Nums"))
        names = {name for name, _ in leaves(root.get("/IDTree", pikepdf.Dictionary()), "/Names")}
    except ValueError as error:
        return [str(error)]
    keys = [int(page.StructParents) for page in pdf.pages if "/StructParents" in page]
    if len(set(keys)) != len(keys):
        wrong.append("two pages have one key to the structure")
    numbers = {page.objgen: n for n, page in enumerate(pdf.pages, 1)}
    # What each element holds of each page.
    held = {}
    ids = []
    stack = [(kid, root) for kid in root.K]
    while stack:
        node, parent = stack.pop()
        if node.P.objgen != parent.objgen:
            wrong.append("an element of structure has another parent than the one that holds it")
        if "/ID" in node:
            ids.append(bytes(node.ID))
        for attributes in node.get("/A", []):
            for header in attributes.get("/Headers", []) if isinstance(attributes, pikepdf.Dictionary) else []:
                if bytes(header) not in names:
                    wrong.append("a cell of a table has a head that is not there")
        kids = node.get("/K", [])
        for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
            if isinstance(kid, int):
                held[node.Pg.objgen, kid] = node.objgen
            elif kid.get("/Type") == "/MCR":
                held[kid.get("/Pg", node.get("/Pg")).objgen, int(kid.MCID)] = node.objgen
            elif "/S" in kid:
                stack.append((kid, node))
    if sorted(ids) != sorted(names) or len(set(ids)) != len(ids):
        wrong.append("names of elements are not those of the tree of names, or not one each")
    for page in pdf.pages:
        if "/Contents" not in page:
            continue
        number = numbers[page.objgen]
        marked = set()
        for operands, operator in pikepdf.parse_content_stream(page):
            if str(operator) == "BDC" and isinstance(operands[1], pikepdf.Dictionary) and "/MCID" in operands[1]:
                marked.add(int(operands[1].MCID))
        of_page = parents.get(int(page.get("/StructParents", -1)), [])
        if marked != set(range(len(of_page))):
            wrong.append(f"page {number}: what is marked is not what the tree of parents lists")
        for mark in marked:
            if mark < len(of_page) and held.get((page.objgen, mark)) != of_page[mark].objgen:
                wrong.append(f"page {number}: the tree of parents and the structure say two things of mark {mark}")
    for (page, _) in held:
        if page not in numbers:
            wrong.append("an element of structure lies on a page that is not there")
    return wrong


def check_outline(pdf):
    """Every entry of the outline leads to a page, and entries are chained both ways."""
    pages = {page.objgen for page in pdf.pages}

    def level(above):
        entry, before = above.get("/First"), None
        count = 0
        while entry is not None:
            if entry.Parent.objgen != above.objgen or (before is not None and entry.Prev.objgen != before.objgen):
                return None
            place = entry.Dest
            if isinstance(place, pikepdf.Array) and place[0].objgen not in pages:
                return None
            if "/First" in entry and level(entry) is None:
                return None
            count += 1
            before, entry = entry, entry.get("/Next")
        return count if before is None or before.objgen == above.Last.objgen else None

    if "/Outlines" in pdf.Root and level(pdf.Root.Outlines) is None:
        return ["the outline is broken"]
    return []


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
            # Between two papers of a packet lies a blank page, so that each begins on an odd one.
            if "/Contents" not in page:
                continue
            page.contents_coalesce()
            if "/StructParents" not in page:
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
        wrong += check_structure(pdf)
        wrong += check_outline(pdf)
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
