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
}
