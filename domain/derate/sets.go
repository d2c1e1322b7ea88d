package derate

import "coldrise/domain/part"

// Set is a named set of rules a shop may start from, as data.
type Set struct {
	Name string
	// For says whom it suits, in a sentence.
	For string
	// Changes are over the rules of "everyday", which gives them all.
	Changes Overrides
	// Reasons are whose figure each changed rule is, by member.
	Reasons []Reason
}

// Reason is what a rule's figure rests on: a source, or "common practice".
type Reason struct {
	Member string `json:"member"`
	Source string `json:"source"`
}

// Everyday is the set a shop starts from where it names none.
const Everyday = "everyday"

// Default gives the policy a shop starts from: the set everyday.
func Default() Policy {
	s, _ := SetNamed(Everyday)
	return s.Policy()
}

// Policy gives the whole of a set's rules.
func (s Set) Policy() Policy {
	p := s.Changes.Apply(sets()[0].Changes.Apply(Policy{}))
	p.Name = s.Name
	return p
}

// SetNamed gives the set of a name.
func SetNamed(name string) (Set, bool) {
	for _, s := range sets() {
		if s.Name == name {
			return s, true
		}
	}
	return Set{}, false
}

// Sets gives the named sets, everyday first. The caller owns what it gets.
func Sets() []Set { return sets() }

const (
	practice = "common practice"
	src      = "System Reliability Center, Part Derating Parameters, fixed aluminium electrolytics, "
)

func sets() []Set {
	return []Set{everyday(), roadworthy(), unattended(), keepsake(), thrifty()}
}

func given[T any](x T) *T { return &x }

func everyday() Set {
	return Set{
		Name: Everyday,
		For:  "Ordinary repair: what is sound stays, what is bought lasts until the next overhaul.",
		Changes: Overrides{
			WorkingShare: given(0.9), UseSurge: given(false), SurgeLimitS: given(30.0), RippleShare: given(1.0), SignalHz: given(100.0),
			LifeYears: given(8.0), HoursPerWeek: given(20.0), FullDriveShare: given(0.25), TemperatureMarginK: given(0.0), CathodeFaultRatio: given(1.0),
			HumAllowDB: given(1.0), MaxRatio: given(2.2), TouchRule: given(ByRegion), UseHighEnd: given(true), WidestPct: given(11.0), DischargeS: given(60.0), StockYears: given(10.0), ReplaceAll: given(false),
			Constructions: given(AnyConstruction), SpareSections: given(1), MountingCost: given(part.Money(mountingCost)),
			LineCost: given(part.Money(lineCost)), Currency: given("GBP"), Spare: given(0),
		},
		Reasons: []Reason{
			{"working_share", practice + "; the makers ask no more than DC plus ripple peak within the rating (Nippon Chemi-Con)"},
			{"use_surge", "the surge test is 1000 times 30 s: under three years at a start a day"},
			{"surge_limit_s", "IEC 60384-1 surge test, 30 s (secondary text); RND data sheet, 30 ± 5 s"},
			{"ripple_share", "the rated ripple current is what the life is rated at"},
			{"signal_hz", practice + ": a little above a guitar's lowest note, 82 Hz; low frequencies heat an electrolytic most"},
			{"life_years", practice + ": until the next overhaul"},
			{"hours_per_week", practice + ": a working musician's hours"},
			{"full_drive_share", practice + ": music keeps an amplifier at its limit for a quarter of the time at most"},
			{"temperature_margin_k", "the temperature class is the maker's own limit"},
			{"cathode_fault_ratio", practice + ": a bypass is chosen for its cathode, not for a failed tube"},
			{"hum_allow_db", practice + ": 1 dB is hardly heard; it lets 47 µF stand for 50 µF"},
			{"max_ratio", practice + ": the next E6 value but one, 22 for 10 µF, 47 for 22 µF"},
			{"touch_rule", "UL household and ANSI C101, 0.5 mA; IEC 60065, 0.7 mA peak"},
			{"touch_ma", "none of the shop's own: touch_rule decides"},
			{"use_high_end", practice + " of safety work: what is not known is held to be at its worst"},
			{"widest_pct", practice + ": a step of the offered ratings, 450 to 500 V"},
			{"discharge_s", practice + ": about as long as it takes to open a chassis"},
			{"stock_years", "CDE 1993: 10 years is the end of shelf life"},
			{"replace_all", practice + ": what is sound is left alone"},
			{"constructions", practice + ": what passes and costs least with its mounting"},
			{"spare_sections", practice + ": a section left over stays open, its lug insulated"},
			{"mounting_cost", practice + ": some minutes for each piece more"},
			{"line_cost", practice + ": a minute of picking and booking per line"},
			{"currency", "the starter catalogue's"},
			{"spare", practice + ": none for a single amplifier"},
		},
	}
}

// lineCost is 1.50 in millionths, and mountingCost 1.00.
const (
	lineCost     = 1_500_000
	mountingCost = 1_000_000
)

// What a policy lets parts be put together to.
const (
	AnyConstruction = "any"
	AsDrawn         = "as_drawn"
)

func roadworthy() Set {
	return Set{
		Name: "roadworthy",
		For:  "Touring and hire: long hours near full drive, hot, far from the bench, so everything that ages is renewed and spares travel along.",
		Changes: Overrides{WorkingShare: given(0.8), TemperatureMarginK: given(20.0), RippleShare: given(0.8), HoursPerWeek: given(40.0), FullDriveShare: given(0.5),
			CathodeFaultRatio: given(2.0), ReplaceAll: given(true), Spare: given(1)},
		Reasons: []Reason{
			{"working_share", src + "benign: 80 % of the rated voltage"},
			{"temperature_margin_k", src + "20 K below the upper category temperature"},
			{"ripple_share", practice + ": a fifth in hand for a hot stage"},
			{"hours_per_week", practice + ": rehearsal and a show most days"},
			{"full_drive_share", practice + ": played loud"},
			{"cathode_fault_ratio", practice + ": a tube that draws twice its current must not take its bypass along"},
			{"replace_all", practice + " before a tour: electrolytics are renewed together"},
			{"spare", practice + ": one of each along"},
		},
	}
}

func unattended() Set {
	return Set{
		Name: "unattended",
		For:  "Installations that run day and night with nobody near.",
		Changes: Overrides{WorkingShare: given(0.7), TemperatureMarginK: given(20.0), HoursPerWeek: given(168.0), FullDriveShare: given(0.1), LifeYears: given(5.0),
			CathodeFaultRatio: given(2.0), TouchRule: given(Unearthed), ReplaceAll: given(true)},
		Reasons: []Reason{
			{"working_share", src + "severe: 70 % of the rated voltage"},
			{"temperature_margin_k", src + "20 K below the upper category temperature"},
			{"hours_per_week", "all there are"},
			{"full_drive_share", practice + ": background level"},
			{"life_years", practice + ": a service every five years"},
			{"cathode_fault_ratio", practice + ": nobody is there to switch off"},
			{"touch_rule", "IEC 60950:1999, table 5A, not earthed: the strictest of its limits"},
			{"replace_all", practice + ": electrolytics are renewed together"},
		},
	}
}

func keepsake() Set {
	return Set{
		Name:    "keepsake",
		For:     "Collectors' pieces, seldom switched on: close to the original values, as little as possible touched.",
		Changes: Overrides{HoursPerWeek: given(2.0), FullDriveShare: given(0.1), HumAllowDB: given(0.5), MaxRatio: given(1.5), Constructions: given(AsDrawn)},
		Reasons: []Reason{
			{"hours_per_week", practice + ": an evening a week"},
			{"full_drive_share", practice + ": played softly"},
			{"hum_allow_db", practice + ": as quiet as it was"},
			{"max_ratio", practice + ": the next E6 value, 22 for 15 µF"},
			{"constructions", practice + ": nothing is built that was not drawn"},
		},
	}
}

func thrifty() Set {
	return Set{
		Name:    "thrifty",
		For:     "The cheapest repair that keeps within the makers' own limits: no margin of the shop's, and the surge rating is used.",
		Changes: Overrides{WorkingShare: given(1.0), UseSurge: given(true), LifeYears: given(4.0), HumAllowDB: given(2.0), LineCost: given(part.Money(0)), MountingCost: given(part.Money(0))},
		Reasons: []Reason{
			{"working_share", "Nippon Chemi-Con precautions: DC plus ripple peak within the rating"},
			{"use_surge", "IEC 60384-1: the surge test stands for 1000 starts of 30 s"},
			{"life_years", practice + ": half an overhaul's interval"},
			{"hum_allow_db", practice + ": just heard"},
			{"line_cost", practice + ": the shop's time is not counted"},
			{"mounting_cost", practice + ": the shop's time is not counted"},
		},
	}
}
