"""Workbooks written by LibreOffice 7.4 (Debian libreoffice-calc-nogui) from flat
OpenDocument sheets made here: run in testdata/workbooks."""
import os
import subprocess
import tempfile
from xml.sax.saxutils import escape, quoteattr

from lines import HEADER, LINES, SHOP

SPACES = " ".join('xmlns:%s="urn:oasis:names:tc:opendocument:xmlns:%s:1.0"' % p for p in (
    ("office", "office"), ("table", "table"), ("text", "text"), ("style", "style"), ("number", "datastyle"))) + \
    ' xmlns:fo="urn:oasis:names:tc:opendocument:xmlns:xsl-fo-compatible:1.0" xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"'


def money(name, language, country, symbol, after):
    n = '<number:number number:decimal-places="2" number:min-decimal-places="2" number:min-integer-digits="1" number:grouping="true"/>'
    c = '<number:currency-symbol number:language="%s" number:country="%s">%s</number:currency-symbol>' % (language, country, symbol)
    inner = n + "<number:text> </number:text>" + c if after else c + n
    return '<number:currency-style style:name="%s" number:language="%s" number:country="%s">%s</number:currency-style>' % (name, language, country, inner)


def date(name, language, country, parts):
    return '<number:date-style style:name="%s" number:language="%s" number:country="%s">%s</number:date-style>' % (name, language, country, "".join(
        "<number:text>%s</number:text>" % p if len(p) == 1 else '<number:%s number:style="long"/>' % p for p in parts))


def cell(value=None, formula=None, style=None, repeat=0):
    a = ' table:style-name="%s"' % style if style else ""
    if formula:
        a += " table:formula=%s" % quoteattr("of:=" + formula)
    if repeat:
        a += ' table:number-columns-repeated="%d"' % repeat
    if isinstance(value, str) and value.startswith("date:"):
        return '<table:table-cell%s office:value-type="date" office:date-value="%s"/>' % (a, value[5:])
    if isinstance(value, str):
        return '<table:table-cell%s office:value-type="string"><text:p>%s</text:p></table:table-cell>' % (a, escape(value))
    if value is not None:
        return '<table:table-cell%s office:value-type="float" office:value="%r"/>' % (a, value)
    return "<table:table-cell%s/>" % a


def row(*cells, more=""):
    return "<table:table-row%s>%s</table:table-row>" % (more, "".join(cells))


def sheet(name, rows, columns=""):
    return "<table:table table:name=%s>%s%s</table:table>" % (quoteattr(name), columns or "<table:table-column table:number-columns-repeated=\"12\"/>", "".join(rows))


def write(name, styles, sheets, language, country):
    text = '<?xml version="1.0" encoding="UTF-8"?><office:document %s office:version="1.3" office:mimetype="application/vnd.oasis.opendocument.spreadsheet">' % SPACES
    text += '<office:styles><style:default-style style:family="table-cell"><style:text-properties fo:language="%s" fo:country="%s"/></style:default-style></office:styles>' % (language, country)
    text += "<office:automatic-styles>%s</office:automatic-styles><office:body><office:spreadsheet>%s</office:spreadsheet></office:body></office:document>" % (styles, "".join(sheets))
    with tempfile.TemporaryDirectory() as d:
        flat = os.path.join(d, name + ".fods")
        with open(flat, "w") as f:
            f.write(text)
        subprocess.run(["soffice", "--headless", "-env:UserInstallation=file://" + d + "/profile", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", ".", flat], check=True)


def styled(name, data, parent=""):
    return '<style:style style:name="%s" style:family="table-cell" style:data-style-name="%s">%s</style:style>' % (name, data, parent)


BORDER = '<style:table-cell-properties fo:border="0.5pt solid #808080"/>'


def german():
    styles = money("N1", "de", "DE", "€", True) + date("N2", "de", "DE", ["day", ".", "month", ".", "year"]) + \
        '<number:number-style style:name="N3" number:language="de" number:country="DE"><number:number number:decimal-places="4" number:min-decimal-places="4" number:min-integer-digits="1"/></number:number-style>' + \
        styled("geld", "N1", BORDER) + styled("tag", "N2", BORDER) + styled("preis", "N3", BORDER) + \
        '<style:style style:name="zeile" style:family="table-cell">%s</style:style>' % BORDER
    head = ["Pos", "Lieferant", "Bestellnr.", "Hersteller-Nr.", "Bezeichnung", "Für", "Menge", "Einzelpreis", "Gesamt", "Bestelldatum"]
    rows = [row(cell("Röhrenwerkstatt Am Mühlgraben: Bestellung")), row(), row(*[cell(h) for h in head])]
    for i in range(23):
        n = 4 + i
        line = LINES[i] if i < len(LINES) else None
        values = [i + 1] + (list(line) if line else [None] * 7)
        styles_ = ["zeile"] * 7 + ["preis"]
        rows.append(row(*[cell(v, style=s) for v, s in zip(values, styles_)],
                        cell(formula='IF([.G%d]="";"";ROUND([.G%d]*[.H%d];2))' % (n, n, n), style="geld"),
                        cell("date:2026-10-0%d" % (i + 1) if line else None, style="tag")))
    rows.append(row(cell(), cell("Summe"), *[cell()] * 4, cell(formula="SUM([.G4:.G26])"), cell(), cell(formula="SUM([.I4:.I26])", style="geld")))
    rows.append(row(cell(), cell("MwSt. 19 %"), *[cell()] * 6, cell(formula="ROUND([.I27]*0.19;2)", style="geld")))
    rows.append(row(cell(), cell("Brutto"), *[cell()] * 6, cell(formula="[.I27]+[.I28]", style="geld")))
    other = [row(cell("Offen"), cell(formula="['Bestellung'.I27]", style="geld"))]
    write("bestellung-de", styles, [sheet("Bestellung", rows), sheet("Übersicht", other)], "de", "DE")


def american():
    styles = money("N1", "en", "US", "$", False) + date("N2", "en", "US", ["month", "/", "day", "/", "year"]) + \
        styled("cash", "N1") + styled("day", "N2")
    rows = [row(cell(SHOP + ": parts log")), row(cell("Spent"), cell(formula="SUM([.I5:.I7])", style="cash")), row(),
            row(cell("Ordered"), cell("Order"), *[cell(h) for h in HEADER[:2] + HEADER[2:8]])]
    for i, line in enumerate(LINES):
        n = 5 + i
        rows.append(row(cell("date:2026-09-1%d" % i, style="day"), cell("SO-0%d" % i), *[cell(v) for v in line[:3]], cell(line[3]), cell(line[4]),
                        cell(line[5]), cell(formula="[.H%d]*[.J%d]" % (n, n), style="cash"), cell(line[6], style="cash")))
    rows[3] = row(*[cell(h) for h in ["Ordered", "Order", "Supplier", "Code", "Part", "Description", "For", "Qty", "Line total", "Price"]])
    write("log-us", styles, [sheet("Log", rows)], "en", "US")


def hidden():
    columns = '<table:table-column table:number-columns-repeated="6"/><table:table-column table:visibility="collapse"/><table:table-column table:number-columns-repeated="5"/>'
    rows = [row(cell(SHOP)), row(cell("Total"), cell(formula="SUM([.H7:.H9])")),
            row(cell("kept out of sight"), cell(formula="[.B2]*2"), more=' table:visibility="collapse"'), row(), row(),
            row(*[cell(h) for h in HEADER])]
    rows += ["<table:table-row-group>"]
    for i, line in enumerate(LINES):
        n = 7 + i
        rows.append(row(*[cell(v) for v in line], cell(formula="[.F%d]*[.G%d]" % (n, n)), cell("GBP"), more=' table:visibility="filter"' if i == 1 else ""))
    rows += ["</table:table-row-group>"]
    write("hidden", "", [sheet("Order", rows, columns)], "en", "GB")


for make in (german, american, hidden):
    make()
