package pages

// officeTexts are the texts of findings and what a lead does about them, reviews, documents.
var officeTexts = map[string]said{
	// pages that refresh themselves
	"live-lost":     {"The connection is lost. What you see may be old; it refreshes itself when the connection is back.", "Se perdió la conexión. Lo que ve puede ser antiguo; se actualiza solo cuando vuelva la conexión."},
	"live-ended":    {"Your sign-in has ended, so this page no longer refreshes itself.", "Su sesión terminó y esta página ya no se actualiza sola."},
	"live-typing":   {"Something new was written down. This page waits with it while you type.", "Se anotó algo nuevo. Esta página espera mientras usted escribe."},
	"live-fresh":    {"Refreshed at", "Actualizada a las"},
	"live-sign-in":  {"Sign in again", "Entrar de nuevo"},
	"too-many-open": {"Too many pages are open at once. Close one and load this again.", "Hay demasiadas páginas abiertas. Cierre una y cargue esta de nuevo."},

	// findings
	"outlook-oldest":   {"Oldest that is open", "El más antiguo abierto"},
	"outlook-overdue":  {"Overdue right now", "Atrasado ahora mismo"},
	"outlook-expiring": {"Papers missing, run out, or out within 60 days", "Papeles que faltan, vencidos o por vencer en 60 días"},
	"outlook-owed":     {"Days to review", "Días por revisar"},
	"outlook-none":     {"None", "Ninguno"},
	"outlook-more":     {"See all of them", "Verlos todos"},
	"findings-list":    {"Findings one by one", "Los hallazgos uno por uno"},
	"filter-words":     {"Search: lot, station, task, person, any word", "Buscar: lote, puesto, tarea, persona, cualquier palabra"},
	"filter-rule":      {"What kind", "De qué tipo"},
	"filter-by":        {"In which order", "En qué orden"},
	"filter-any":       {"All", "Todos"},
	"filter-go":        {"Show", "Mostrar"},
	"filter-clear":     {"Show everything", "Mostrar todo"},

	"by-station":       {"By station", "Por puesto"},
	"by-rule":          {"By kind", "Por tipo"},
	"no-station":       {"At no station", "En ningún puesto"},
	"excuse-it":        {"Excuse", "Dispensar"},
	"review-it":        {"Review", "Revisar"},
	"hold-it":          {"Hold the lot", "Retener el lote"},
	"release-it":       {"Release or reject", "Liberar o rechazar"},
	"file-it":          {"Put on file", "Archivar"},
	"n-records":        {"%d records", "%d registros"},
	"owed-late":        {"was due by %s", "era para el %s"},
	"owed-today":       {"today is the last day", "hoy es el último día"},
	"owed-one":         {"1 working day left, until %s", "queda 1 día hábil, hasta el %s"},
	"owed-days":        {"%d working days left, until %s", "quedan %d días hábiles, hasta el %s"},
	"paper-is-missing": {"not on file", "no está archivado"},
	"paper-from":       {"holds from %s", "vale desde el %s"},
	"paper-no-end":     {"no last day", "sin último día"},
	"paper-since":      {"ran out on %s", "venció el %s"},
	"paper-today":      {"today is its last day", "hoy es su último día"},
	"paper-one":        {"1 day left, until %s", "queda 1 día, hasta el %s"},
	"paper-days":       {"%d days left, until %s", "quedan %d días, hasta el %s"},
}
