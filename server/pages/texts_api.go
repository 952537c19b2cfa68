package pages

// apiTexts are what programs and the crew page are told when something is not taken.
var apiTexts = map[string]said{
	"not-yours-heading":  {"This entry is somebody else’s", "Este registro es de otra persona"},
	"not-yours-say":      {"It is by %s, and %s is signed in. Nothing was written; it can be sent when the right person has signed in.", "Es de %s, y ha entrado %s. No se anotó nada; se puede enviar cuando haya entrado la persona correcta."},
	"not-yours-gone":     {"It is by %s, who is no longer at the plant and can not sign in. Nothing was written and nothing is lost: a lead can write it down under their own name, naming whose work it was.", "Es de %s, que ya no está en la planta y no puede entrar. No se anotó nada y nada se pierde: un responsable puede anotarlo con su nombre, indicando de quién fue el trabajo."},
	"wrong-media":        {"Sent as something else", "Enviado como otra cosa"},
	"wrong-media-say":    {"Here only this is taken: %s.", "Aquí solo se acepta: %s."},
	"body-empty":         {"Nothing was sent with it.", "No se envió nada."},
	"body-not-json":      {"What was sent is not JSON.", "Lo que se envió no es JSON."},
	"body-too-deep":      {"What was sent is nested too deeply.", "Lo que se envió está anidado demasiado."},
	"not-understood":     {"The question can not be read", "No se entiende la pregunta"},
	"not-understood-say": {"A value of it is not as it should be.", "Un valor no es como debe ser."},
	"want-count":         {"a whole number from 1 to %d", "un número entero de 1 a %d"},
	"want-whole":         {"a whole number, 0 or more", "un número entero, 0 o más"},
	"want-day":           {"a day like 2026-03-09", "un día como 2026-03-09"},
	"want-moment":        {"a moment like 2026-03-09T11:30:00Z, and not in the future", "un momento como 2026-03-09T11:30:00Z, y no en el futuro"},
	"want-direction":     {"both, back or forward", "both, back o forward"},
	"want-other":         {"something else; see the description", "otra cosa; vea la descripción"},
	"want-no-such":       {"there is no such member; check its spelling", "no existe ese miembro; revise cómo se escribe"},
	"want-once":          {"it is there twice; keep one", "está dos veces; deje uno"},
	"photo-hash":         {"The photo is not the one its name stands for", "La foto no es la que indica su nombre"},
	"photo-hash-do":      {"It may have been damaged on its way: send it again.", "Puede haberse dañado en el camino: envíela de nuevo."},
	"photo-broken":       {"That picture is damaged.", "Esa imagen está dañada."},
	"photo-bounds":       {"That picture measures %d by %d pixels, which is more than is taken.", "Esa imagen mide %d por %d píxeles, más de lo que se acepta."},
}
