"""What libraries of another language read in a PDF: text by pypdf, structure by pikepdf, rules of PDF/UA-1 by pdfua, lines by pdfplumber."""

from collections import Counter


def elements(node, parents=()):
    """Every structure element with its role and the roles around it, in reading order."""
    import pikepdf

    kids = node.get("/K")
    if kids is None:
        return
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            role = str(kid["/S"])[1:]
            yield role, kid, parents
            yield from elements(kid, (*parents, role))


def is_link(kid):
    import pikepdf

    return isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/OBJR"


def attributes(element):
    """The attributes of an element as one dictionary."""
    import pikepdf

    found = element.get("/A", pikepdf.Array())
    out = {}
    for one in found if isinstance(found, pikepdf.Array) else [found]:
        if isinstance(one, pikepdf.Dictionary):
            out.update({str(key)[1:]: str(value) for key, value in one.items()})
    return out


def outline(items, depth=1):
    out = []
    for item in items:
        if isinstance(item, list):
            out += outline(item, depth + 1)
        else:
            out.append([depth, item.title])
    return out


def fonts(pdf):
    """Each font of the document: its name, whether its outlines are in the file, and whether its letters can be copied."""
    import pikepdf

    out = {}
    for item in pdf.objects:
        if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/Font" and "/DescendantFonts" in item:
            descriptor = item["/DescendantFonts"][0]["/FontDescriptor"]
            embedded = any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            out[str(item["/BaseFont"])] = [embedded, "/ToUnicode" in item]
    return out


def structure(path):
    """All that is told of a document without looking at it."""
    import pikepdf
    import pypdf

    reader = pypdf.PdfReader(path)
    texts = [page.extract_text() for page in reader.pages]
    pdf = pikepdf.open(path)
    root = pdf.Root
    tree = list(elements(root["/StructTreeRoot"]))
    links = [annotation for page in pdf.pages for annotation in page.get("/Annots", [])]
    with pdf.open_metadata() as metadata:
        part = metadata.get("pdfuaid:part")
    rows = []
    for role, element, _ in tree:
        if role == "Table":
            of_table = [Counter(str(cell["/S"])[1:] for cell in row["/K"]) for kind, row, _ in elements(element) if kind == "TR"]
            rows.append([dict(row) for row in of_table])
    return {
        "texts": texts,
        "sizes": [[float(page.mediabox.width), float(page.mediabox.height)] for page in reader.pages],
        "title": reader.metadata.title,
        "producer": reader.metadata.producer,
        "created": reader.metadata.get("/CreationDate"),
        "shows_title": bool(root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False)),
        "language": str(root.get("/Lang", "")),
        "marked": bool(root.get("/MarkInfo", {}).get("/Marked", False)),
        "ua_part": part,
        "fonts": fonts(pdf),
        "roles": dict(Counter(role for role, _, _ in tree)),
        "headings": [[role, str(element.get("/T", ""))] for role, element, _ in tree if role[0] == "H" and role[1:].isdigit()],
        "figures": [str(element.get("/Alt", "")) for role, element, _ in tree if role == "Figure"],
        "scopes": dict(Counter(attributes(element).get("Scope", "none") for role, element, _ in tree if role == "TH")),
        "tables": rows,
        "links": len(links),
        "links_without_words": sum(1 for link in links if not str(link.get("/Contents", ""))),
        "links_outside_structure": sum(1 for link in links if "/StructParent" not in link),
        "links_without_target": sum(1 for link in links if "/Dest" not in link and "/A" not in link),
        "tab_order": [str(page.get("/Tabs", "")) for page in pdf.pages if "/Annots" in page],
        "outline": outline(reader.outline),
    }


def accessible(path):
    """What the checker of PDF/UA-1 finds; it examines the rules that it names."""
    import pdfua

    report = pdfua.validate(path)
    return {"findings": [f"{one.rule_id}: {one.message}" for one in report.findings]}


def measured(path):
    """Straight lines of the first page with their ends in millimetres from its lower left corner, and its words."""
    import pdfplumber

    with pdfplumber.open(path) as pdf:
        page = pdf.pages[0]
        mm = 25.4 / 72

        def ends(line):
            return [float(line[key]) * mm for key in ("x0", "y0", "x1", "y1")]

        lines = [[*ends(line), float(line["linewidth"]) * mm] for line in page.lines]
        curves = [[[float(x) * mm, float(page.height - y) * mm] for x, y in curve["pts"]] for curve in page.curves]
        words = [[word["text"], float(word["x0"]) * mm, float(page.height - word["bottom"]) * mm] for word in page.extract_words()]
        return {"lines": lines, "curves": curves, "words": words}


def drawn(path, rgb, size):
    """How far a picture of a page, bytes of red, green and blue, is from the page as PDFium draws it: mean difference, correlation of
    both after a blur of four pixels, and the share of each that is ink."""
    import numpy
    import pypdfium2
    from scipy.ndimage import uniform_filter

    width, height = size
    page = pypdfium2.PdfDocument(path)[0]
    theirs = page.render(scale=width / page.get_width()).to_numpy()[:height, :width, :3].astype(float).mean(axis=2)
    ours = numpy.fromfile(rgb, dtype=numpy.uint8).reshape(height, width, 3).astype(float).mean(axis=2)
    theirs, ours = (picture[: min(len(theirs), len(ours))] for picture in (theirs, ours))
    a, b = (uniform_filter(picture, 4) for picture in (theirs, ours))
    return {
        "difference": float(numpy.abs(a - b).mean()),
        "correlation": float(numpy.corrcoef(a.ravel(), b.ravel())[0, 1]),
        "ink": [float((picture < 128).mean()) for picture in (theirs, ours)],
    }
