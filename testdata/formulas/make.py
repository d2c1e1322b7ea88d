"""Has LibreOffice 7.4 insert rows and fill down, and keeps how it then writes
formulas: run in testdata/formulas with Debian's python3-uno and
libreoffice-calc-nogui. Formulas are drawn with a fixed seed."""
import html
import os
import random
import re
import subprocess
import tempfile
import time
import zipfile

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.table import CellRangeAddress

random.seed(20261125)
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACK = "http://schemas.openxmlformats.org/package/2006/"
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml."


def reference():
    fix = lambda: random.choice(["", "", "$"])
    col = lambda: random.choice(["A", "B", "F", "H", "J", "AA", "XFD"])
    row = lambda: random.choice([1, 2, 5, 8, 9, 9, 10, 10, 11, 12, 13, 20, 1048576])
    sheet, kind = random.choice(["", "", "", "Other!"]), random.random()
    rows, cols = sorted([row(), row()]), sorted([col(), col()], key=lambda c: (len(c), c))
    if kind < 0.4:
        return sheet + fix() + col() + fix() + str(row())
    if kind < 0.8:
        return "SUM(%s%s%s%s%d:%s%s%s%d)" % (sheet, fix(), cols[0], fix(), rows[0], fix(), cols[1], fix(), rows[1])
    if kind < 0.9:
        return "SUM(%s%s%s:%s%s)" % (sheet, fix(), cols[0], fix(), cols[1])
    return "SUM(%s%d:%d)" % (sheet, rows[0], rows[1])


OWN = ["+".join(reference() for _ in range(random.randint(1, 3))) for _ in range(250)]
FAR = ["SUM(%s)" % (random.choice(["Order!"] * 4 + [""]) + random.choice(
    ["F9", "$F$10", "F$12", "H9:H10", "A1", "$A$9:$J$9", "B2:B9", "B2:B10", "B10:B12", "J1048576", "5:12", "F:F"])) for _ in range(80)]


def letters(n):
    s = ""
    while n > 0:
        s, n = chr(65 + (n - 1) % 26) + s, (n - 1) // 26
    return s


def relations(rows):
    return '<Relationships xmlns="%srelationships">%s</Relationships>' % (PACK, "".join(
        '<Relationship Id="r%d" Type="%s/%s" Target="%s"/>' % (i + 1, REL, kind, target) for i, (kind, target) in enumerate(rows)))


def workbook(path, sheets):
    names = list(sheets)
    with zipfile.ZipFile(path, "w") as z:
        z.writestr("[Content_Types].xml", '<Types xmlns="%scontent-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
                   '<Override PartName="/xl/workbook.xml" ContentType="%ssheet.main+xml"/>%s</Types>' % (PACK, TYPE, "".join(
                       '<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="%sworksheet+xml"/>' % (i + 1, TYPE) for i in range(len(names)))))
        z.writestr("_rels/.rels", relations([("officeDocument", "xl/workbook.xml")]))
        z.writestr("xl/workbook.xml", '<workbook xmlns="%s" xmlns:r="%s"><sheets>%s</sheets></workbook>' % (MAIN, REL, "".join(
            '<sheet name="%s" sheetId="%d" r:id="r%d"/>' % (n, i + 1, i + 1) for i, n in enumerate(names))))
        z.writestr("xl/_rels/workbook.xml.rels", relations([("worksheet", "worksheets/sheet%d.xml" % (i + 1)) for i in range(len(names))]))
        for i, n in enumerate(names):
            rows = {}
            for (col, row), f in sorted(sheets[n].items()):
                rows.setdefault(row, []).append('<c r="%s%d"><f>%s</f></c>' % (letters(col), row, html.escape(f, quote=False)))
            z.writestr("xl/worksheets/sheet%d.xml" % (i + 1), '<worksheet xmlns="%s"><sheetData>%s</sheetData></worksheet>' % (MAIN, "".join(
                '<row r="%d">%s</row>' % (r, "".join(rows[r])) for r in sorted(rows))))


def formulas(path, sheet):
    with zipfile.ZipFile(path) as z:
        text = z.read("xl/worksheets/sheet%d.xml" % sheet).decode()
    return {m.group(1): html.unescape(m.group(2)) for m in re.finditer(r'<c r="([A-Z]+\d+)"[^>]*><f[^>]*>([^<]*)</f>', text)}


def prop(name, value):
    p = PropertyValue()
    p.Name, p.Value = name, value
    return p


def main(folder):
    office = subprocess.Popen(["soffice", "--headless", "--norestore", "-env:UserInstallation=file://%s/profile" % folder, "--accept=pipe,name=formulas;urp;"])
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
    for _ in range(120):
        try:
            there = resolver.resolve("uno:pipe,name=formulas;urp;StarOffice.ComponentContext")
            break
        except Exception:
            time.sleep(0.5)
    desktop = there.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", there)
    path = lambda name: os.path.join(folder, name + ".xlsx")
    opened = lambda name: desktop.loadComponentFromURL("file://" + path(name), "_blank", 0, (prop("Hidden", True),))
    save = lambda doc, name: doc.storeToURL("file://" + path(name), (prop("FilterName", "Calc MS Excel 2007 XML"),))

    workbook(path("in"), {"Order": {(100 + i, 5): f for i, f in enumerate(OWN)}, "Other": {(1, i + 1): f for i, f in enumerate(FAR)}})
    doc = opened("in")
    save(doc, "before")
    rows = CellRangeAddress()
    rows.StartRow, rows.EndRow = 9, 11
    doc.Sheets.getByName("Order").insertCells(rows, uno.Enum("com.sun.star.sheet.CellInsertMode", "ROWS"))
    save(doc, "pushed")
    doc.close(True)

    workbook(path("line"), {"Order": {(100 + i, 9): f for i, f in enumerate(OWN)}, "Other": {}})
    doc = opened("line")
    doc.Sheets.getByName("Order").getCellRangeByPosition(99, 8, 98 + len(OWN), 10).fillAuto(uno.Enum("com.sun.star.sheet.FillDirection", "TO_BOTTOM"), 1)
    save(doc, "carried")
    doc.close(True)
    try:
        desktop.terminate()
    except Exception:
        pass
    office.wait(30)

    with open("pushed.tsv", "w") as out:
        for sheet, name, cells in ((1, "Order", ["%s5" % letters(100 + i) for i in range(len(OWN))]), (2, "Other", ["A%d" % (i + 1) for i in range(len(FAR))])):
            before, after = formulas(path("before"), sheet), formulas(path("pushed"), sheet)
            for c in cells:
                print(name, before[c], after[c], sep="\t", file=out)
    carried = formulas(path("carried"), 1)
    with open("carried.tsv", "w") as out:
        for i in range(len(OWN)):
            print(*[carried["%s%d" % (letters(100 + i), r)] for r in (9, 10, 11)], sep="\t", file=out)


with tempfile.TemporaryDirectory() as folder:
    main(folder)
