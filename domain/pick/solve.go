package pick

import "context"

// Cheapest gives the cheapest order that fills the job's places, each by one of
// its ways, within the settings. Fewest places unfilled comes first, then the
// least total, then the fewest lines.
//
// What is needed of a part is bought the cheapest way there is: from several
// offers, past what is used where that costs less or saves carriage. Nothing is
// bought of a part that no place uses. A place that no stock can fill by the
// due date has Chosen −1 and stands in Short. Where no order keeps MaxParts or
// the suppliers' minima the status is Infeasible and the order empty; Cures
// says what would mend it. The job is not changed.
//
// Equal jobs and settings give equal answers. A search ended by ctx gives the
// best order so far, with status Cancelled, and one ended by MaxNodes likewise.
// Its errors: Invalid for a job or settings out of their ranges, with every
// fault, and for amounts too large to weigh; Cancelled where ctx ended before
// there was any order.
func Cheapest(ctx context.Context, job *Job, s Settings) (Order, error) {
	if err := check(job, &s); err != nil {
		return Order{}, err
	}
	g, c, err := newModel(ctx, job, &s)
	if err != nil {
		return Order{}, err
	}
	q := finder{limit: s.MaxNodes, scale: c.scale, tell: s.Progress}
	if q.limit == 0 {
		q.limit = DefaultMaxNodes
	}
	f, err := q.find(g)
	if err != nil {
		return Order{}, err
	}
	if f.best == nil {
		return Order{Status: f.status, Nodes: f.nodes}, nil
	}
	o, err := c.assemble(f)
	if err != nil {
		return Order{}, err
	}
	c.seconds(&o)
	return o, nil
}
