package table

import (
	"context"
	"encoding/xml"
	"strconv"
	"strings"
)

// formats says what the number of a cell with a style means: by style index.
type formats []Kind

// Numbers of built-in formats: per cent, and days and times of day. ECMA-376
// part 1, 18.8.30; 27 to 36 and 50 to 58 are days in East Asian locales.
func builtIn(id int) Kind {
	switch {
	case id == 9, id == 10:
		return Percent
	case id >= 14 && id <= 22, id >= 27 && id <= 36, id >= 45 && id <= 47, id >= 50 && id <= 58:
		return Date
	}
	return Number
}

// readFormats reads which styles show days and percentages.
func (w *Workbook) readFormats(ctx context.Context) (formats, error) {
	if w.styles == "" {
		return nil, nil
	}
	custom := map[string]Kind{}
	var all formats
	inCells := false
	err := w.elements(ctx, w.styles, func(e xml.StartElement) {
		switch e.Name.Local {
		case "numFmt":
			custom[attribute(e, "numFmtId")] = codeKind(attribute(e, "formatCode"))
		case "cellXfs":
			inCells = true
		case "cellStyles", "dxfs", "tableStyles", "cellStyleXfs":
			inCells = false
		case "xf":
			if inCells {
				all = append(all, kindOf(attribute(e, "numFmtId"), custom))
			}
		}
	})
	return all, err
}

func kindOf(id string, custom map[string]Kind) Kind {
	if k, ok := custom[id]; ok {
		return k
	}
	n, err := strconv.Atoi(id)
	if err != nil {
		return Number
	}
	return builtIn(n)
}

// codeKind reads a format code: what stands in quotes, in brackets or behind a
// backslash is shown as it is and says nothing.
func codeKind(code string) Kind {
	code, _, _ = strings.Cut(code, ";") // the form of numbers above 0
	kind, inQuotes, inBrackets, skip := Number, false, false, false
	for _, c := range strings.ToLower(code) {
		switch {
		case skip:
			skip = false
		case inQuotes:
			inQuotes = c != '"'
		case inBrackets:
			inBrackets = c != ']'
		case c == '"':
			inQuotes = true
		case c == '[':
			inBrackets = true
		case c == '\\', c == '_', c == '*':
			skip = true
		case c == '%' && kind == Number:
			kind = Percent
		case strings.ContainsRune("ymdhs", c):
			return Date
		}
	}
	return kind
}

// of gives what a number means in a cell of a style.
func (f formats) of(style string) Kind {
	if style == "" {
		return Number
	}
	i, err := strconv.Atoi(style)
	if err != nil || i < 0 || i >= len(f) {
		return Number
	}
	return f[i]
}
