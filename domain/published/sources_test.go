package published

// sources are the publications the rows name.
var sources = map[string]source{
	// Capacitor makers and standards.
	"iec60384":   {secondary, "Wikipedia, Aluminum electrolytic capacitor, and Electrolytic capacitor, on IEC/EN 60384-1", ""},
	"endurance":  {secondary, "secondary text on IEC 60384-4-1 and on electrolytic capacitors", ""},
	"ash":        {sheet, "Vishay 041/042/043 ASH, doc 28329 rev 19-Sep-16 p.4", "https://www.omo-ic.com/pdf/613385/MAL204317479E3/P4-P6.html"},
	"oldash":     {sheet, "Vishay 042/043 ASH, an older issue", "https://dtsheet.com/doc/1128483/vishay-mal204318339e3"},
	"psmsi":      {sheet, "Vishay 056/057 PSM-SI, doc 28340 rev 07-Nov-05 p.64", "http://38.142.81.21:8001/manual/vishay/2222-057-53471/datasheet-english/page-10.html"},
	"rsu":        {sheet, "Vishay 038 RSU, doc 28309 p.100", "http://38.142.81.21:8001/manual/vishay/2222-037-38102/datasheet-english/page-5.html"},
	"eyd":        {sheet, "Vishay EYD", "https://dtsheet.com/doc/27331/vishay-malpeyd00ab447g02w"},
	"alldin":     {sheet, "Vishay 132/133 ALL-DIN", "https://pdf.datasheet.directory/77013dad/vishay.com/222213217331.txt"},
	"rnd":        {sheet, "RND components, 150VVT data sheet", "https://www.manualshelf.com/manual/rnd-components/rnd-150vvt006m470ca1l/datasheet-english/page-6.html"},
	"ge":         {sheet, "GE capacitor application data, series 23A", "https://manualmachine.com/gecapacitor/23aseries/16893505-application-information"},
	"panasonic":  {sheet, "Panasonic SU", "https://dtsheet.com/model/1530872"},
	"rubycon":    {sheet, "Rubycon, Lifetime calculation formula", "http://biz.doczj.com/doc/163504385.html"},
	"nichicon":   {sheet, "Nichicon, lifetime calculation, snap-in", "https://www.nichicon.co.jp/english/products/lifetime/snap_in.html"},
	"cosel":      {sheet, "Cosel, technical Q&A a0057", "https://en.cosel.co.jp/technical/qanda/a0057.html"},
	"jianghai":   {secondary, "Jianghai, electrolytic capacitor lifetime estimation (Albertsen, 2018), as quoted", "https://www.scribd.com/document/234516780/JIANGHAI-Elcap-Lifetime-Estimation-AAL"},
	"lifenote":   {secondary, "secondary text on the life of electrolytic capacitors", ""},
	"german":     {secondary, "a German derating note", ""},
	"5ch":        {forum, "a thread on electrolytic life", "https://egg.5ch.net/test/read.cgi/dtm/1630432580/255"},
	"piclist":    {forum, "PICList, 12 August 2008", "https://pic.hallikainen.org/piclist/2008/b/12/09/002913a.txt"},
	"src":        {book, "System Reliability Center, Part Derating Parameters", "https://studyres.com/doc/7099315/part-derating-parameters---system-reliability-center"},
	"bridge":     {forum, "Sprague TO-5/TO-6 bridge manual, quoted in the boatanchors list", "https://puck.nether.net/pipermail/boatanchors/1999-May/005362.html"},
	"eia815":     {sheet, "ECIA/EIA-815 (1999), abstract", "https://globalstandardslibrary.com/product/ecia-eia-815"},
	"forces":     {forum, "a forces' reforming practice, quoted", "https://konferencjaskd2024.pl/08_11_17_9641.html"},
	"cde1993":    {forum, "CDE, 1993, quoted", "http://www.wa4bpj.com/Ham_Radio/Ham_Radio_Tech_Info/capacitor.htm"},
	"reformtext": {forum, "a maker's text on storage, quoted in thread 95835", "https://www.hifisentralen.no/"},

	// Codes.
	"iec60063": {secondary, "secondary text on IEC 60063, preferred numbers", ""},
	"iec60062": {secondary, "secondary text on IEC 60062, marking codes", ""},

	// Mains and safety.
	"ansi":      {secondary, "secondary text on ANSI C84.1, Range B", ""},
	"parrot":    {secondary, "on IEC 60038 (1983)", "https://www.parrot.ru/byosm/s2/00001/2635.html"},
	"bsi":       {secondary, "BSI, World Electricity Supplies, 5th ed. 1989, quoted", "https://www.mail-archive.com/emc-pstc@listserv.ieee.org/msg26186.html"},
	"kyocera":   {sheet, "Kyocera, safety standards of ceramic capacitors", "https://global.kyocera.com/prdct/electro/product/capacitor/ceramic/mlcc-handling/safety-standard/contents01.html"},
	"ul1414":    {sheet, "UL 1414, section 16", "https://www.atecorp.com/compliance-standards/ul-standards/ul-1414-section-16-impulse-voltage-test"},
	"iec60950":  {secondary, "on IEC 60950:1999, table 5A", "https://www.mail-archive.com/emc-pstc@listserv.ieee.org/msg25786.html"},
	"ulhome":    {secondary, "on UL and ANSI C101 leakage limits", "https://www.mail-archive.com/emc-pstc@listserv.ieee.org/msg22768.html"},
	"toshiba":   {sheet, "Toshiba 32W1333 manual, quoting IEC 60065", "https://www.easymanua.ls/toshiba/32w1333dn/manual?p=7"},
	"reactance": {book, "a worked example of capacitive reactance", "https://holooly.com/?p=1233606"},
	"diyaudio":  {forum, "a thread on power conditioner capacitors", "https://www.diyaudio.com/community/threads/power-conditioner-caps.59315/"},
	"plug60335": {secondary, "on discharge by IEC 60335", "https://classcycles.fr/06_Nov_2013_11023.html"},
	"plug60950": {secondary, "on discharge by IEC/UL 60950 and GB 4943", "http://mzph.cn/diannao/30104.shtml"},

	// Rectifiers.
	"ez40":      {secondary, "Philips EZ40 sheet, as cited", "https://tubeofile.com/api/tubes/EZ40"},
	"tubeofile": {secondary, "transcriptions of makers' tube sheets", "https://tubeofile.com/api/tubes/"},
	"hammond":   {sheet, "Hammond, Design Guide for Rectifier Use", "https://usermanual.wiki/Document/HammondRectifierDesignGuide.146793413/html"},
	"malvino":   {book, "Malvino, Electronic Principles, Q30.7", "https://holooly.com/solutions/what-is-the-dc-load-voltage-and-ripple-in-fig-30-15-compare-the-answers-with-those-in-the-two-preceding-examples/"},
	"fardo":     {book, "Fardo & Patrick, Electrical Power Systems Technology p.197", "https://issuhub.com/view/index?id=4134&pageIndex=208"},
	"homework":  {forum, "a worked supply", "https://homeworksource.com/p/974070"},
	"xpesta":    {forum, "a bridge without load", "http://www.xpesta.info/fullwave.html"},
	"ripplewp":  {secondary, "Wikipedia, Ripple (electrical)", ""},
}
