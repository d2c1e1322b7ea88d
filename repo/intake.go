package repo

import (
	"context"
	"errors"
	"fmt"
	"iter"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// IntakeChunk is how many rows of an import are held at once.
const IntakeChunk = 500

// PartKey is what a shop tells its parts apart by.
type PartKey struct{ Maker, PartNumber string }

// Intake is an engine's side of an import, within one transaction.
type Intake interface {
	// Find gives the parts that are there of the keys, each once.
	Find(ctx context.Context, keys []PartKey) ([]FoundPart, error)
	// Take does the steps. An error of one is AtLine.
	Take(ctx context.Context, steps []IntakeStep) error
}

// FoundPart is a part that was there when a row of an import came to it.
type FoundPart struct {
	Part
	Touched bool // by an earlier row of the import
}

// IntakeStep is what a row asks for.
type IntakeStep struct {
	Line int
	ID   string     // of a part to be created
	Have *FoundPart // of one to be replaced; where it was touched already, without a record and a further version
	Part part.Part
}

// Counts are what the rows of an import did.
type Counts struct{ Created, Changed, Unchanged int }

// TakeIn takes the rows of an import in, a chunk at a time: it finds what is
// there, merges, and leaves what would not change. Every engine imports by it.
func TakeIn(ctx context.Context, in Import, rows iter.Seq2[ImportRow, error], engine Intake) (Counts, error) {
	if in.NewID == nil {
		return Counts{}, errors.New("an import without NewID")
	}
	t := intake{in: in, engine: engine, at: map[PartKey]bool{}}
	for row, err := range rows {
		if err == nil {
			err = t.add(ctx, row)
		}
		if err != nil {
			return Counts{}, err
		}
	}
	return t.counts, t.flush(ctx)
}

type intake struct {
	in     Import
	engine Intake
	rows   []ImportRow
	at     map[PartKey]bool // those among rows
	counts Counts
}

// add takes a row into the chunk. A part of which the chunk has a row already
// begins another, so that it is found as that row leaves it.
func (t *intake) add(ctx context.Context, row ImportRow) error {
	if err := Storable(&row.Part, "part"); err != nil {
		return AtLine(err, row.Line)
	}
	if row.Line < 0 {
		return AtLine(problem.New(problem.Invalid, "a line is not negative"), row.Line)
	}
	DropEmpty(&row.Part)
	key := PartKey{row.Part.Maker, row.Part.PartNumber}
	if t.at[key] || len(t.rows) == IntakeChunk {
		if err := t.flush(ctx); err != nil {
			return err
		}
	}
	t.rows, t.at[key] = append(t.rows, row), true
	return nil
}

func (t *intake) flush(ctx context.Context) error {
	if len(t.rows) == 0 {
		return nil
	}
	keys := make([]PartKey, len(t.rows))
	for i := range t.rows {
		keys[i] = PartKey{t.rows[i].Part.Maker, t.rows[i].Part.PartNumber}
	}
	found, err := t.engine.Find(ctx, keys)
	if err != nil {
		return err
	}
	have := make(map[PartKey]*FoundPart, len(found))
	for i := range found {
		have[PartKey{found[i].Maker, found[i].PartNumber}] = &found[i]
	}
	steps := make([]IntakeStep, 0, len(t.rows))
	for i := range t.rows {
		step, err := t.step(&t.rows[i], have[keys[i]])
		if err != nil {
			return AtLine(err, t.rows[i].Line)
		}
		if step != nil {
			steps = append(steps, *step)
		}
	}
	if err := t.engine.Take(ctx, steps); err != nil {
		return err
	}
	t.rows = t.rows[:0]
	clear(t.at)
	if t.in.Progress != nil {
		t.in.Progress(t.counts.Created + t.counts.Changed + t.counts.Unchanged)
	}
	return nil
}

// step says what a row asks for; nil where all is as it is.
func (t *intake) step(row *ImportRow, have *FoundPart) (*IntakeStep, error) {
	if have == nil {
		id := t.in.NewID()
		if err := StorableRow(id, nil, "part"); err != nil {
			return nil, err
		}
		t.counts.Created++
		return &IntakeStep{Line: row.Line, ID: id, Part: row.Part}, nil
	}
	if have.Touched && !SameFigures(have.Part.Part, row.Part) {
		return nil, problem.New(problem.Invalid, "the part %s of the maker %s is in an earlier line with other figures",
			quote(row.Part.PartNumber), quote(row.Part.Maker))
	}
	merged := Merge(have.Part.Part, row.Part)
	if Same(&have.Part.Part, &merged) {
		t.counts.Unchanged++
		return nil, nil
	}
	t.counts.Changed++
	return &IntakeStep{Line: row.Line, Have: have, Part: merged}, nil
}

// AtLine gives an error of a row the line it stands in: in its sentence, and
// ahead of the pointers of its faults. Errors of no row pass.
func AtLine(err error, line int) error {
	var e *problem.Error
	if !errors.As(err, &e) || e.Code != problem.Invalid && e.Code != problem.Conflict {
		return err
	}
	at := *e
	at.Message = fmt.Sprintf("line %d: %s", line, e.Message)
	at.Faults = nil
	for _, f := range e.Faults {
		f.Pointer = fmt.Sprintf("/rows/%d%s", line, f.Pointer)
		at.Faults = append(at.Faults, f)
	}
	if len(at.Faults) == 0 {
		at.Faults = []problem.Fault{{Pointer: fmt.Sprintf("/rows/%d", line), Message: e.Message}}
	}
	return &at
}

// Reasons is conflict: why an import cannot be undone, MaxReasons of all of them.
func Reasons(id string, reasons []problem.Fault, all int) error {
	if len(reasons) > MaxReasons {
		reasons = append(reasons[:MaxReasons-1:MaxReasons-1], problem.Fault{
			Message: fmt.Sprintf("and %d reasons more", all-MaxReasons+1)})
	}
	return &problem.Error{Code: problem.Conflict, Message: fmt.Sprintf("the import %s cannot be undone", quote(id)), Faults: reasons}
}

// The reasons. what is a part's maker and number, or its id where it is gone.

// PartChanged says that a part has been changed since an import.
func PartChanged(id, maker, number string) problem.Fault {
	return problem.Fault{Pointer: "/parts/" + id, Message: partName(id, maker, number) + " has been changed or deleted since"}
}

// PartUsed says that a document rests on a part.
func PartUsed(id, maker, number string, kind Kind, document string) problem.Fault {
	return problem.Fault{Pointer: "/parts/" + id, Message: fmt.Sprintf("%s is used by the %s %s", partName(id, maker, number), kind, quote(document))}
}

// SeriesChanged says that a series has been changed since an import.
func SeriesChanged(name string) problem.Fault {
	return problem.Fault{Pointer: "/series/" + name, Message: fmt.Sprintf("the series %s has been changed or deleted since", quote(name))}
}

// SeriesUsed says that parts that an import did not bring are of a series it did.
func SeriesUsed(name string) problem.Fault {
	return problem.Fault{Pointer: "/series/" + name, Message: fmt.Sprintf("parts of other origin are of the series %s", quote(name))}
}

func partName(id, maker, number string) string {
	if number == "" {
		return "the part " + quote(id)
	}
	return "the part " + quote(number) + " of the maker " + quote(maker)
}

// CheckImport refuses an import whose header no engine can keep. invalid.
func CheckImport(in Import, at Stamp) error {
	if err := CheckStamp(at); err != nil {
		return err
	}
	if err := StorableRow(in.ID, struct{ Source, SHA256 string }{in.Source, in.SHA256}, "import"); err != nil {
		return err
	}
	named := map[string]bool{}
	for i := range in.Series {
		if named[in.Series[i].Name] {
			return problem.New(problem.Invalid, "the series %s is given twice", quote(in.Series[i].Name))
		}
		named[in.Series[i].Name] = true
	}
	return CheckBody(in.Findings, "findings")
}
