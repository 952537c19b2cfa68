package pages

// apiTexts are what programs and the crew page are told when something is not taken.
var apiTexts = map[string]said{
	"not-yours-heading": {"This entry is somebody else’s", "Este registro es de otra persona"},
	"not-yours-say":     {"It is by %s, and %s is signed in. Nothing was written; it can be sent when the right person has signed in.", "Es de %s, y ha entrado %s. No se anotó nada; se puede enviar cuando haya entrado la persona correcta."},
	"not-yours-gone":    {"It is by %s, who is no longer at the plant and can not sign in. Nothing was written and nothing is lost: a lead can write it down under their own name, naming whose work it was.", "Es de %s, que ya no está en la planta y no puede entrar. No se anotó nada y nada se pierde: un responsable puede anotarlo con su nombre, indicando de quién fue el trabajo."},
	"wrong-media":       {"Sent as something else", "Enviado como otra cosa"},
	"wrong-media-say":   {"Here only this is taken: %s.", "Aquí solo se acepta: %s."},
	"body-empty":        {"Nothing was sent with it.", "No se envió nada."},
	"body-not-json":     {"What was sent is not JSON.", "Lo que se envió no es JSON."},
	"body-too-deep":     {"What was sent is nested too deeply.", "Lo que se envió está anidado demasiado."},
	"photo-hash":        {"The photo is not the one its name stands for", "La foto no es la que indica su nombre"},
	"photo-hash-do":     {"It may have been damaged on its way: send it again.", "Puede haberse dañado en el camino: envíela de nuevo."},
	"photo-broken":      {"That picture is damaged.", "Esa imagen está dañada."},
	"photo-bounds":      {"That picture measures %d by %d pixels, which is more than is taken.", "Esa imagen mide %d por %d píxeles, más de lo que se acepta."},
}
