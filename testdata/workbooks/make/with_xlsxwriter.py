"""Workbooks written by XlsxWriter 3.0.2 (Debian python3-xlsxwriter): run in testdata/workbooks."""
import struct
import zlib

import xlsxwriter

from lines import HEADER, LINES, PIECES, SHOP, SUM


def book(name, **options):
    b = xlsxwriter.Workbook(name, options)
    b.set_properties({"title": "Parts order", "author": SHOP})
    return b


def formats(b):
    return {
        "head": b.add_format({"bold": True, "bottom": 2, "bg_color": "#DDE6EE", "text_wrap": True}),
        "text": b.add_format({"border": 1}),
        "count": b.add_format({"border": 1, "num_format": "0"}),
        "price": b.add_format({"border": 1, "num_format": "#,##0.000000"}),
        "money": b.add_format({"border": 1, "num_format": "#,##0.00"}),
        "sum": b.add_format({"bold": True, "top": 6, "num_format": "#,##0.00"}),
        "share": b.add_format({"border": 1, "num_format": "0.0%"}),
        "date": b.add_format({"border": 1, "num_format": "yyyy-mm-dd"}),
    }


def lines(s, f, row, total=None):
    """Writes header and lines from a row on (0-based); total makes the formula of a line."""
    for c, text in enumerate(HEADER):
        s.write(row, c, text, f["head"])
    for i, line in enumerate(LINES):
        r = row + 1 + i
        for c, v in enumerate(line[:5]):
            s.write_string(r, c, v, f["text"])
        s.write_number(r, 5, line[5], f["count"])
        s.write_number(r, 6, line[6], f["price"])
        if total:
            s.write_formula(r, 7, total(r + 1), f["money"], round(line[5] * line[6], 2))
        s.write_string(r, 8, "GBP", f["text"])


def product(r):
    return "=F%d*G%d" % (r, r)


def formulas():
    b = book("formulas.xlsx")
    f = formats(b)
    s, rates, summary = b.add_worksheet("Order"), b.add_worksheet("Rates"), b.add_worksheet("Summary")
    s.write("A1", SHOP + ": parts order", b.add_format({"bold": True, "font_size": 16}))
    s.write_formula("A3", '="Lines: "&COUNTA(B7:B9)', None, "Lines: 3")
    lines(s, f, 5, product)
    for c, text in enumerate(["Share", "In EUR", "So far"]):
        s.write(5, 9 + c, text, f["head"])
    so_far = 0
    for i, line in enumerate(LINES):
        r, v = 7 + i, line[5] * line[6]
        so_far += v
        s.write_formula("J%d" % r, "=H%d/H$11" % r, f["share"], v / SUM)
        s.write_formula("K%d" % r, "=H%d*Rates!$B$2" % r, f["money"], v * 1.17)
        s.write_formula("L%d" % r, "=SUM(H$7:H%d)" % r, f["money"], so_far)
    s.write("A11", "Total", f["sum"])
    s.write_formula("F11", "=SUM(F7:F10)", f["sum"], PIECES)
    s.write_formula("H11", "=SUM(H7:H10)", f["sum"], SUM)
    s.write("A12", "VAT", f["text"])
    s.write_formula("H12", "=ROUND(H11*Rates!B3,2)", f["money"], 6.97)
    s.write("A13", "To pay", f["sum"])
    s.write_formula("H13", "=H11+H12", f["sum"], 41.83)
    s.write_formula("K11", "=SUM(K7:K9)", f["sum"], SUM * 1.17)
    rates.write_row("A1", ["What", "Rate"])
    rates.write_row("A2", ["EUR for one GBP", 1.17])
    rates.write_row("A3", ["VAT", 0.2])
    summary.write("A1", "Peatgate Components")
    summary.write_formula("B1", "=SUMIF(Order!A:A,A1,Order!H:H)", f["money"], 30.96)
    summary.write("A2", "Largest line")
    summary.write_formula("B2", '=IF(COUNT(Order!L:L)>0,MAX(Order!J:J),"none")', f["share"], 22.72 / SUM)
    b.close()


def table():
    b = book("table.xlsx")
    f = formats(b)
    s, summary = b.add_worksheet("Order"), b.add_worksheet("Summary")
    s.write("A1", SHOP + ": parts order")
    s.set_column("A:A", 24)
    s.add_table(4, 0, 8, 8, {
        "name": "Lines", "style": "Table Style Light 11", "total_row": True,
        "data": [list(l) for l in LINES],
        "columns": [
            {"header": "Supplier", "total_string": "Total"}, {"header": "Code"}, {"header": "Part"}, {"header": "Description"}, {"header": "For"},
            {"header": "Qty", "total_function": "sum", "total_value": PIECES}, {"header": "Price", "format": f["price"]},
            {"header": "Line total", "formula": "=[@Qty]*[@Price]", "format": f["money"], "total_function": "sum", "total_value": SUM},
            {"header": "Currency"},
        ]})
    for i, line in enumerate(LINES):
        s.write_formula(5 + i, 7, "=Lines[[#This Row],[Qty]]*Lines[[#This Row],[Price]]", f["money"], line[5] * line[6])
        s.write_string(5 + i, 8, "GBP")
    # The writer leaves the table's name out of these; spreadsheets write it.
    s.write_formula("F9", "=SUBTOTAL(109,Lines[Qty])", None, PIECES)
    s.write_formula("H9", "=SUBTOTAL(109,Lines[Line total])", f["money"], SUM)
    s.write("A11", "Deliver to the back door")
    summary.write_formula("A1", "=SUM(Lines[Line total])", f["money"], SUM)
    summary.write_formula("A2", "=Lines[[#Totals],[Qty]]", None, PIECES)
    summary.write_formula("A3", "=SUMPRODUCT(Lines[Qty],Lines[Price])", f["money"], SUM)
    b.close()


def conditional():
    b = book("conditional.xlsx")
    f = formats(b)
    s = b.add_worksheet("Order")
    s.write_row("K1", ["Dear above", 5])
    s.write_formula("B2", "=SUM(H5:H13)", f["sum"], SUM)
    s.write("A2", "Total", f["sum"])
    prepared = lambda r: '=IF(F%d="","",F%d*G%d)' % (r, r, r)
    lines(s, f, 3, prepared)
    for r in range(8, 14):  # six rows laid out and empty
        for c, kind in enumerate(["text"] * 5 + ["count", "price", "money", "text"]):
            s.write_blank(r - 1, c, None, f[kind])
        s.write_formula(r - 1, 7, prepared(r), f["money"], "")
    red, green = b.add_format({"bg_color": "#FFC7CE"}), b.add_format({"font_color": "#006100", "bold": True})
    s.conditional_format("H5:H13", {"type": "data_bar", "data_bar_2010": True, "bar_color": "#8FB08C"})
    s.conditional_format("G5:G13", {"type": "3_color_scale"})
    s.conditional_format("F5:F13", {"type": "icon_set", "icon_style": "3_traffic_lights"})
    s.conditional_format("A5:I13", {"type": "formula", "criteria": "=AND(ISNUMBER($G5),$G5>$L$1)", "format": red})
    s.conditional_format("A6:A13", {"type": "formula", "criteria": "=$A6<>$A5", "format": green})
    s.conditional_format("B5:B13", {"type": "duplicate", "format": red, "multi_range": "B5:B13 D5:D13"})
    s.conditional_format("B2", {"type": "cell", "criteria": ">", "value": "=SUM($G$5:$G$13)", "format": green})
    b.close()


def chart():
    b = book("chart.xlsx")
    f = formats(b)
    s = b.add_worksheet("Order")
    s.write("A1", "Total", f["sum"])
    s.write_formula("B1", "=SUM(H:H)", f["sum"], SUM)
    lines(s, f, 3, product)
    c = b.add_chart({"type": "column"})
    c.add_series({"name": "=Order!$H$4", "categories": "=Order!$C$5:$C$7", "values": "=Order!$H$5:$H$7"})
    c.set_title({"name": "What the lines cost"})
    s.insert_chart("K3", c)
    wide = b.add_chart({"type": "line"})
    wide.add_series({"values": "=Order!$F$5:$F$200"})
    b.add_worksheet("Charts").insert_chart("B2", wide)
    own = b.add_chartsheet("Shares")
    pie = b.add_chart({"type": "pie"})
    pie.add_series({"categories": "=Order!$C$5:$C$7", "values": "=Order!$H$5:$H$7"})
    own.set_chart(pie)
    b.close()


def png():
    """A 16 by 16 square, written here byte by byte."""
    chunk = lambda kind, data: struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    rows = b"".join(b"\x00" + bytes([(x * 16, y * 16, 128)[i] for x in range(16) for i in range(3)]) for y in range(16))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 16, 16, 8, 2, 0, 0, 0)) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def pictures():
    import io
    b = book("pictures.xlsx")
    f = formats(b)
    s = b.add_worksheet("Parts & order")
    s.insert_image("H1", "badge.png", {"image_data": io.BytesIO(png()), "description": "a square"})
    s.write_rich_string("A1", b.add_format({"bold": True}), SHOP, ", parts order")
    s.write_url("A2", "internal:'Parts & order'!A10", string="to the total")
    s.write_url("A3", "https://shop.invalid/orders", string="the shop")
    lines(s, f, 5)
    for i, line in enumerate(LINES):
        s.write_number(6 + i, 7, round(line[5] * line[6], 2), f["money"])
    s.write_comment("F6", "Pieces, not packs")
    s.write_comment("C7", "Measure the clamp first", {"author": "Bench"})
    s.write("A10", "Total", f["sum"])
    s.write_formula("H10", "=SUM(H7:H9)", f["sum"], SUM)
    s.set_header("&C&G", {"image_center": "badge.png", "image_data_center": io.BytesIO(png())})
    s.set_footer("&LPage &P of &N&R&D")
    s.set_row(8, 30)
    other = b.add_worksheet("Notes")
    other.insert_image("B2", "badge.png", {"image_data": io.BytesIO(png())})
    other.write_formula("A1", "=COUNTIF('Parts & order'!F:F,\">0\")-1", None, 3)
    b.close()


def arrays():
    b = book("arrays.xlsx", date_1904=True)
    f = formats(b)
    s, other = b.add_worksheet("Order"), b.add_worksheet("Sorted")
    lines(s, f, 3)
    s.write("J4", "Ordered", f["head"])
    for i, line in enumerate(LINES):
        r = 5 + i
        s.write_array_formula("H%d:H%d" % (r, r), "{=SUM(F%d*G%d)}" % (r, r), f["money"], line[5] * line[6])
        s.write_number("J%d" % r, 44000 + i, f["date"])
    s.write("A1", "Total")
    s.write_array_formula("B1:B1", "{=SUM(F5:F7*G5:G7)}", f["sum"], SUM)
    s.write_array_formula("L1:M1", "{=F5:G5*2}", None, 4)
    s.write_number("M1", 8.24)
    other.write_dynamic_array_formula("A1:B1", "=LEN(Order!L1:M1)", None, 1)
    other.write_number("B1", 4)
    other.write_formula("C1", "=SUMPRODUCT(Order!F5:F500,Order!G5:G500)", f["money"], SUM)
    b.close()


for make in (formulas, table, conditional, chart, pictures, arrays):
    make()
