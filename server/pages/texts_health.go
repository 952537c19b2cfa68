package pages

// healthTexts are what is said when no entries are taken, to anybody who asks; none names a place or a person.
var healthTexts = map[string]said{
	"health-gone":      {"The journal is not where it was.", "El registro no está donde estaba."},
	"health-denied":    {"The database does not let this program in.", "La base de datos no deja entrar a este programa."},
	"health-busy":      {"Another program holds the journal.", "Otro programa tiene el registro."},
	"health-read-only": {"The journal can not be written.", "No se puede escribir en el registro."},
	"health-full":      {"The disk is full, or nearly.", "El disco está lleno, o casi."},
	"health-damaged":   {"The journal is damaged.", "El registro está dañado."},
	"health-away":      {"The disk or database does not answer as it should.", "El disco o la base de datos no responde como debe."},
	"health-clock":     {"The clock of this machine stands before the newest entry.", "El reloj de este equipo está antes de la entrada más reciente."},
	"too-long-say":     {"There is too much to do at the moment, and this took too long. Send it again: it is written down once, however often it is sent.", "Ahora mismo hay demasiado que hacer y esto tardó demasiado. Envíelo otra vez: se anota una sola vez, por mucho que se envíe."},
	"health-other":     {"The journal does not work as it should.", "El registro no funciona como debe."},
}
