"""Workbooks written part by part, for what the writers at hand do not make: a
pivot table, macros, a control, prefixed elements. Run in testdata/workbooks."""
import zipfile
from xml.sax.saxutils import escape

from lines import HEADER, LINES, PIECES, SHOP, SUM

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml."
DECL = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\r\n'


def pack(name, parts):
    with zipfile.ZipFile(name, "w", zipfile.ZIP_DEFLATED) as z:
        for part, data in parts.items():
            z.writestr(zipfile.ZipInfo(part, (2026, 11, 25, 12, 0, 0)), data if isinstance(data, bytes) else data.encode(), zipfile.ZIP_DEFLATED)


def types(defaults, overrides):
    return DECL + '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">' + \
        "".join('<Default Extension="%s" ContentType="%s"/>' % d for d in defaults) + \
        "".join('<Override PartName="/%s" ContentType="%s"/>' % o for o in overrides) + "</Types>"


def relations(*rows):
    return DECL + '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">' + \
        "".join('<Relationship Id="rId%d" Type="%s" Target="%s"/>' % (i + 1, t if "://" in t else REL + "/" + t, target) for i, (t, target) in enumerate(rows)) + "</Relationships>"


STRINGS = []


def shared(text):
    if text not in STRINGS:
        STRINGS.append(text)
    return STRINGS.index(text)


def strings(p=""):
    t, colon = p.rstrip(":"), p
    return DECL + '<%ssst xmlns%s="%s">' % (colon, ":" + t if t else "", MAIN) + "".join(
        "<%ssi><%st>%s</%st></%ssi>" % (colon, colon, escape(s), colon, colon) for s in STRINGS) + "</%ssst>" % colon


def cell(name, value=None, formula=None, style=0, p=""):
    a = '<%sc r="%s"%s' % (p, name, ' s="%d"' % style if style else "")
    if formula is not None:
        return a + "><%sf>%s</%sf><%sv>%r</%sv></%sc>" % (p, escape(formula), p, p, value, p, p)
    if isinstance(value, str):
        return a + ' t="s"><%sv>%d</%sv></%sc>' % (p, shared(value), p, p)
    return a + "><%sv>%r</%sv></%sc>" % (p, value, p, p)


def row(n, *cells, p="", more=""):
    return '<%srow r="%d"%s>%s</%srow>' % (p, n, more, "".join(cells), p)


def line_rows(first, p="", total=lambda r: "F%d*G%d" % (r, r)):
    rows = [row(first, *[cell("ABCDEFGHI"[i] + str(first), h, style=1, p=p) for i, h in enumerate(HEADER)], p=p)]
    for i, l in enumerate(LINES):
        r = first + 1 + i
        rows.append(row(r, *[cell("ABCDEFG"[k] + str(r), v, style=[0, 0, 0, 0, 0, 0, 2][k], p=p) for k, v in enumerate(l)],
                        cell("H%d" % r, round(l[5] * l[6], 2), total(r), style=2, p=p), cell("I%d" % r, "GBP", p=p), p=p,
                        more=' ht="18" customHeight="1"'))
    return "".join(rows)


STYLES = DECL + ('<styleSheet xmlns="%s"><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font><font><b/><sz val="11"/><name val="Calibri"/></font></fonts>'
                 '<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills>'
                 '<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
                 '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
                 '<cellXfs count="3"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>'
                 '<xf numFmtId="4" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"><alignment horizontal="right"/></xf></cellXfs>'
                 '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles><dxfs count="0"/>'
                 '<extLst><ext uri="{EB79DEF2-80B8-43e5-95BD-54CBDDF9020C}" xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"><x14:slicerStyles defaultSlicerStyle="SlicerStyleLight1"/></ext></extLst></styleSheet>') % MAIN


def pivot():
    STRINGS.clear()
    order = DECL + '<worksheet xmlns="%s" xmlns:r="%s"><dimension ref="A1:I8"/><sheetData>' % (MAIN, REL) + \
        row(1, cell("A1", SHOP)) + line_rows(4, total=lambda r: "Lines[[#This Row],[Qty]]*Lines[[#This Row],[Price]]") + \
        row(8, cell("A8", "Total"), cell("F8", PIECES, "SUBTOTAL(109,Lines[Qty])"), cell("H8", SUM, "SUBTOTAL(109,Lines[Line total])", style=2)) + \
        '</sheetData><pageMargins left="0.7" right="0.7" top="0.75" bottom="0.75" header="0.3" footer="0.3"/><tableParts count="1"><tablePart r:id="rId1"/></tableParts></worksheet>'
    columns = "".join('<tableColumn id="%d" name="%s"%s' % (i + 1, h, {
        0: ' totalsRowLabel="Total"/>', 5: ' totalsRowFunction="sum"/>',
        7: ' totalsRowFunction="sum"><calculatedColumnFormula>Lines[[#This Row],[Qty]]*Lines[[#This Row],[Price]]</calculatedColumnFormula></tableColumn>'}.get(i, "/>")) for i, h in enumerate(HEADER))
    table = DECL + '<table xmlns="%s" id="1" name="Lines" displayName="Lines" ref="A4:I8" totalsRowCount="1"><autoFilter ref="A4:I7"/><tableColumns count="9">%s</tableColumns><tableStyleInfo name="TableStyleLight1" showRowStripes="1"/></table>' % (MAIN, columns)
    shown = [("Brackwater Supply", 3.9), ("Peatgate Components", 30.96)]
    sheet = DECL + '<worksheet xmlns="%s"><dimension ref="A3:B6"/><sheetData>' % MAIN + row(3, cell("A3", "Supplier"), cell("B3", "Sum")) + \
        "".join(row(4 + i, cell("A%d" % (4 + i), n), cell("B%d" % (4 + i), v)) for i, (n, v) in enumerate(shown)) + row(6, cell("A6", "Grand total"), cell("B6", SUM)) + "</sheetData></worksheet>"
    fields = "".join('<cacheField name="%s" numFmtId="0"><sharedItems%s</cacheField>' % (h, {
        0: ' count="2">' + "".join('<s v="%s"/>' % n for n, _ in shown) + "</sharedItems>"}.get(i, ' containsSemiMixedTypes="0" containsString="0" containsNumber="1" minValue="0.39" maxValue="22.72"/>' if i in (5, 6, 7) else "/>")) for i, h in enumerate(HEADER))
    cache = DECL + '<pivotCacheDefinition xmlns="%s" xmlns:r="%s" r:id="rId1" refreshedBy="%s" refreshedVersion="6" createdVersion="6" recordCount="3"><cacheSource type="worksheet"><worksheetSource name="Lines"/></cacheSource><cacheFields count="9">%s</cacheFields></pivotCacheDefinition>' % (MAIN, REL, SHOP, fields)
    records = DECL + '<pivotCacheRecords xmlns="%s" count="3">' % MAIN + "".join(
        '<r><x v="%d"/>%s<n v="%d"/><n v="%r"/><n v="%r"/><s v="GBP"/></r>' % (["Brackwater Supply", "Peatgate Components"].index(l[0]), "".join('<s v="%s"/>' % escape(v) for v in l[1:5]), l[5], l[6], round(l[5] * l[6], 2)) for l in LINES) + "</pivotCacheRecords>"
    table_fields = "".join({0: '<pivotField axis="axisRow" showAll="0"><items count="3"><item x="0"/><item x="1"/><item t="default"/></items></pivotField>', 7: '<pivotField dataField="1" showAll="0"/>'}.get(i, '<pivotField showAll="0"/>') for i in range(9))
    view = DECL + ('<pivotTableDefinition xmlns="%s" name="BySupplier" cacheId="1" dataCaption="Values" updatedVersion="6" createdVersion="6" outline="1"><location ref="A3:B6" firstHeaderRow="1" firstDataRow="1" firstDataCol="1"/>'
                   '<pivotFields count="9">%s</pivotFields><rowFields count="1"><field x="0"/></rowFields><rowItems count="3"><i><x/></i><i><x v="1"/></i><i t="grand"><x/></i></rowItems><colItems count="1"><i/></colItems>'
                   '<dataFields count="1"><dataField name="Sum" fld="7" baseField="0" baseItem="0"/></dataFields></pivotTableDefinition>') % (MAIN, table_fields)
    workbook = DECL + '<workbook xmlns="%s" xmlns:r="%s"><workbookPr/><sheets><sheet name="Order" sheetId="1" r:id="rId1"/><sheet name="By supplier" sheetId="2" r:id="rId2"/></sheets><calcPr calcId="191029"/><pivotCaches><pivotCache cacheId="1" r:id="rId6"/></pivotCaches></workbook>' % (MAIN, REL)
    chain = DECL + '<calcChain xmlns="%s"><c r="H5" i="1"/><c r="H6" i="1"/><c r="H7" i="1"/><c r="F8" i="1"/><c r="H8" i="1"/></calcChain>' % MAIN
    pack("pivot.xlsx", {
        "[Content_Types].xml": types([("rels", "application/vnd.openxmlformats-package.relationships+xml"), ("xml", "application/xml")], [
            ("xl/workbook.xml", TYPE + "sheet.main+xml"), ("xl/worksheets/sheet1.xml", TYPE + "worksheet+xml"), ("xl/worksheets/sheet2.xml", TYPE + "worksheet+xml"),
            ("xl/styles.xml", TYPE + "styles+xml"), ("xl/sharedStrings.xml", TYPE + "sharedStrings+xml"), ("xl/calcChain.xml", TYPE + "calcChain+xml"), ("xl/tables/table1.xml", TYPE + "table+xml"),
            ("xl/pivotCache/pivotCacheDefinition1.xml", TYPE + "pivotCacheDefinition+xml"), ("xl/pivotCache/pivotCacheRecords1.xml", TYPE + "pivotCacheRecords+xml"), ("xl/pivotTables/pivotTable1.xml", TYPE + "pivotTable+xml")]),
        "_rels/.rels": relations(("officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": workbook,
        "xl/_rels/workbook.xml.rels": relations(("worksheet", "worksheets/sheet1.xml"), ("worksheet", "worksheets/sheet2.xml"), ("styles", "styles.xml"), ("sharedStrings", "sharedStrings.xml"), ("calcChain", "calcChain.xml"), ("pivotCacheDefinition", "pivotCache/pivotCacheDefinition1.xml")),
        "xl/worksheets/sheet1.xml": order, "xl/worksheets/_rels/sheet1.xml.rels": relations(("table", "../tables/table1.xml")),
        "xl/worksheets/sheet2.xml": sheet, "xl/worksheets/_rels/sheet2.xml.rels": relations(("pivotTable", "../pivotTables/pivotTable1.xml")),
        "xl/pivotTables/pivotTable1.xml": view, "xl/pivotTables/_rels/pivotTable1.xml.rels": relations(("pivotCacheDefinition", "../pivotCache/pivotCacheDefinition1.xml")),
        "xl/pivotCache/pivotCacheDefinition1.xml": cache, "xl/pivotCache/_rels/pivotCacheDefinition1.xml.rels": relations(("pivotCacheRecords", "pivotCacheRecords1.xml")),
        "xl/pivotCache/pivotCacheRecords1.xml": records, "xl/tables/table1.xml": table, "xl/styles.xml": STYLES, "xl/sharedStrings.xml": strings(), "xl/calcChain.xml": chain,
    })


def macros():
    """Every element of the main namespace has a prefix here, as some writers do it."""
    STRINGS.clear()
    p = "x:"
    order = DECL + '<x:worksheet xmlns:x="%s" xmlns:r="%s" xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006" xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" mc:Ignorable="x14">' % (MAIN, REL) + \
        '<x:sheetPr codeName="Order"/><x:dimension ref="A1:I7"/><x:sheetData>' + row(1, cell("A1", SHOP, p=p), p=p) + \
        row(2, cell("A2", "Total", p=p), cell("B2", SUM, "SUM(H5:H7)", style=2, p=p), p=p) + line_rows(4, p=p) + \
        '</x:sheetData><x:pageMargins left="0.7" right="0.7" top="0.75" bottom="0.75" header="0.3" footer="0.3"/><x:pageSetup paperSize="9" r:id="rId1"/><x:drawing r:id="rId3"/>' \
        '<mc:AlternateContent><mc:Choice Requires="x14"><x:controls><mc:AlternateContent><mc:Choice Requires="x14"><x:control shapeId="1025" r:id="rId2" name="Place order"><x:controlPr print="0" autoFill="0" macro="[0]!PlaceOrder"><x:anchor><from xmlns="http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing"><col>10</col><colOff>0</colOff><row>1</row><rowOff>0</rowOff></from>' \
        '<to xmlns="http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing"><col>12</col><colOff>0</colOff><row>3</row><rowOff>0</rowOff></to></x:anchor></x:controlPr></x:control></mc:Choice></mc:AlternateContent></x:controls></mc:Choice></mc:AlternateContent></x:worksheet>'
    workbook = DECL + '<x:workbook xmlns:x="%s" xmlns:r="%s"><x:workbookPr codeName="ThisWorkbook"/><x:sheets><x:sheet name="Order" sheetId="1" r:id="rId1"/></x:sheets></x:workbook>' % (MAIN, REL)
    drawing = DECL + '<xdr:wsDr xmlns:xdr="http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing" xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main"><xdr:twoCellAnchor><xdr:from><xdr:col>10</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>4</xdr:row><xdr:rowOff>0</xdr:rowOff></xdr:from><xdr:to><xdr:col>12</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>6</xdr:row><xdr:rowOff>0</xdr:rowOff></xdr:to>' \
        '<xdr:sp macro="" textlink="$B$2"><xdr:nvSpPr><xdr:cNvPr id="2" name="Spent"/><xdr:cNvSpPr/></xdr:nvSpPr><xdr:spPr><a:prstGeom prst="rect"><a:avLst/></a:prstGeom></xdr:spPr><xdr:txBody><a:bodyPr/><a:p><a:fld id="{3F2504E0-4F89-41D3-9A0C-0305E82C3301}" type="TxLink"><a:rPr lang="en-GB"/><a:t>34.86</a:t></a:fld></a:p></xdr:txBody></xdr:sp><xdr:clientData/></xdr:twoCellAnchor></xdr:wsDr>'
    control = DECL + '<formControlPr xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" objectType="CheckBox" fmlaLink="$L$1" lockText="1"/>'
    blob = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes((i * 37 + 11) % 251 for i in range(1528))  # no macro: bytes that must come through
    pack("macros.xlsm", {
        "[Content_Types].xml": types([("rels", "application/vnd.openxmlformats-package.relationships+xml"), ("xml", "application/xml"), ("bin", "application/vnd.ms-office.vbaProject")], [
            ("xl/workbook.xml", "application/vnd.ms-excel.sheet.macroEnabled.main+xml"), ("xl/worksheets/sheet1.xml", TYPE + "worksheet+xml"), ("xl/styles.xml", TYPE + "styles+xml"), ("xl/sharedStrings.xml", TYPE + "sharedStrings+xml"),
            ("xl/printerSettings/printerSettings1.bin", TYPE + "printerSettings"), ("xl/drawings/drawing1.xml", "application/vnd.openxmlformats-officedocument.drawing+xml"), ("xl/ctrlProps/ctrlProp1.xml", "application/vnd.ms-excel.controlproperties+xml"),
            ("customXml/itemProps1.xml", "application/vnd.openxmlformats-officedocument.customXmlProperties+xml")]),
        "_rels/.rels": relations(("officeDocument", "xl/workbook.xml"), ("http://schemas.microsoft.com/office/2006/relationships/ui/extensibility", "customUI/customUI.xml")),
        "customUI/customUI.xml": '<customUI xmlns="http://schemas.microsoft.com/office/2006/01/customui"><ribbon><tabs><tab id="bench" label="Bench"/></tabs></ribbon></customUI>',
        "xl/workbook.xml": workbook,
        "xl/_rels/workbook.xml.rels": relations(("worksheet", "worksheets/sheet1.xml"), ("styles", "styles.xml"), ("sharedStrings", "sharedStrings.xml"), ("http://schemas.microsoft.com/office/2006/relationships/vbaProject", "vbaProject.bin"), ("customXml", "../customXml/item1.xml")),
        "xl/worksheets/sheet1.xml": order,
        "xl/worksheets/_rels/sheet1.xml.rels": relations(("printerSettings", "../printerSettings/printerSettings1.bin"), ("ctrlProp", "../ctrlProps/ctrlProp1.xml"), ("drawing", "../drawings/drawing1.xml")),
        "xl/drawings/drawing1.xml": drawing, "xl/ctrlProps/ctrlProp1.xml": control, "xl/printerSettings/printerSettings1.bin": bytes(range(220)), "xl/vbaProject.bin": blob,
        "customXml/item1.xml": "<bench><rack>3</rack></bench>", "customXml/itemProps1.xml": '<ds:datastoreItem ds:itemID="{0A1B2C3D-0000-4000-8000-000000000001}" xmlns:ds="http://schemas.openxmlformats.org/officeDocument/2006/customXml"/>',
        "customXml/_rels/item1.xml.rels": relations(("customXmlProps", "itemProps1.xml")),
        "xl/styles.xml": STYLES, "xl/sharedStrings.xml": strings(p),
    })


for make in (pivot, macros):
    make()
