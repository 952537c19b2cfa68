package journey

// wordsIn are the words in a language; English for one we do not have.
func wordsIn(lang string) map[string]string {
	out := make(map[string]string, len(said))
	for key, s := range said {
		out[key] = s[0]
		if lang == "es" {
			out[key] = s[1]
		}
	}
	return out
}

// said are English and Spanish.
var said = map[string][2]string{
	"trace": {"Trace through the plants", "Rastreo por las plantas"}, "both": {"both ways", "hacia atrás y hacia delante"}, "back": {"back", "hacia atrás"}, "forward": {"forward", "hacia delante"},
	"lot": {"lot", "lote"}, "item": {"item", "producto"}, "role": {"role", "papel"}, "mass": {"mass", "masa"}, "where": {"now", "ahora"},
	"subject": {"subject", "sujeto"}, "upstream": {"upstream", "origen"}, "downstream": {"downstream", "destino"}, "gone": {"used up", "usado"},
	"from-plant": {"From plant to plant", "De planta a planta"}, "loose": {"Without a counterpart", "Sin correspondencia"},
	"nothing":   {"Nothing here went to another plant of ours or came from one.", "Nada de aquí fue a otra planta nuestra ni vino de una."},
	"no-lots":   {"No lot had to do with it.", "Ningún lote tuvo que ver con ello."},
	"decides":   {"What the records show; the certifier and the authority having jurisdiction judge.", "Lo que muestran los registros; juzgan la certificadora y la autoridad competente."},
	"estimated": {"It was drawn from a mixed station: every lot that stood there is named, and shares are estimates.", "Se tomó de un puesto mezclado: se nombra cada lote que estaba allí, y las partes son estimaciones."},
	"joined": {"{lot} left {from} on {left} ({out}) and was received at {to} on {came} as {got} ({in}).",
		"{lot} salió de {from} el {left} ({out}) y se recibió en {to} el {came} como {got} ({in})."},
	"named-as-written": {"The receipt names the lot as it was written there.", "El recibo nombra el lote tal como se escribió allí."},
	"named-bag":        {"The receipt names a bag of the lot: “{written}”.", "El recibo nombra un saco del lote: «{written}»."},
	"named-respelt":    {"The receipt writes “{written}”: the same lot, but for letter case, spaces or signs.", "El recibo pone «{written}»: el mismo lote, salvo mayúsculas, espacios o signos."},
	"named-among":      {"The receipt names several lots: “{written}”.", "El recibo nombra varios lotes: «{written}»."},
	"named-not-named":  {"The receipt names no lot; a paper number that both wrote down joins them.", "El recibo no nombra ningún lote; los une un número de papel que ambos anotaron."},
	"rule-papers":      {"Of several handovers of it, this one has the same paper number.", "De varias entregas, esta lleva el mismo número de papel."},
	"rule-mass":        {"Of several handovers of it, only this one’s mass agrees.", "De varias entregas, solo coincide la masa de esta."},
	"rule-time":        {"Of several handovers of it, this one fits best by mass and time; no paper number tells them apart.", "De varias entregas, esta es la que mejor encaja por masa y hora; ningún número de papel las distingue."},
	"rule-only":        {"There was no other handover it could answer.", "No había otra entrega a la que pudiera responder."},
	"differs":          {"What came in ({in}) and what left ({out}) differ by more than the scales explain.", "Lo que entró ({in}) y lo que salió ({out}) difieren más de lo que explican las básculas."},
	"differs-together": {"What all receipts of it took in together ({in}) and what left ({out}) differ by more than the scales explain.", "Lo que entró con todos sus recibos ({in}) y lo que salió ({out}) difieren más de lo que explican las básculas."},
	"sent-none":        {"{lot} was handed over to {to} on {when} ({mass}); no receipt there names it.", "{lot} se entregó a {to} el {when} ({mass}); allí ningún recibo lo nombra."},
	"sent-taken":       {"{lot} was handed over to {to} on {when} ({mass}); the receipts there that name it answer other handovers, or came before it left.", "{lot} se entregó a {to} el {when} ({mass}); los recibos de allí que lo nombran responden a otras entregas, o son anteriores a su salida."},
	"sent-partner":     {"{lot} was handed over to {to} on {when} ({mass}); the plan in force there has no partner that is {from}, so no receipt can be found.", "{lot} se entregó a {to} el {when} ({mass}); el plan vigente allí no tiene ningún socio que sea {from}, así que no se puede encontrar recibo."},
	"sent-hidden":      {"{lot} went on to {to} on {when} ({mass}). You do not see that plant here; ask its lead.", "{lot} siguió a {to} el {when} ({mass}). Usted no ve esa planta aquí; pregunte a su responsable."},
	"sent-unread":      {"{lot} went on to {to} on {when} ({mass}). The records there can not be read now.", "{lot} siguió a {to} el {when} ({mass}). Los registros de allí no se pueden leer ahora."},
	"got-none":         {"{lot} was received at {to} from {from} on {when} ({mass}) as their lot “{written}”; no handover there names such a lot.", "{lot} se recibió en {to} de {from} el {when} ({mass}) como su lote «{written}»; allí ninguna entrega nombra ese lote."},
	"got-late":         {"{lot} was received at {to} from {from} on {when} ({mass}) as their lot “{written}”; every handover of it there left later.", "{lot} se recibió en {to} de {from} el {when} ({mass}) como su lote «{written}»; allí todas sus entregas salieron después."},
	"got-partner":      {"{lot} was received at {to} from {from} on {when} ({mass}); the plan in force there has no partner that is {to}, so no handover can be found.", "{lot} se recibió en {to} de {from} el {when} ({mass}); el plan vigente allí no tiene ningún socio que sea {to}, así que no se puede encontrar entrega."},
	"got-unnamed":      {"{lot} was received at {to} from {from} on {when} ({mass}); the receipt names no lot of theirs, and no paper number joins it to a handover.", "{lot} se recibió en {to} de {from} el {when} ({mass}); el recibo no nombra ningún lote suyo, y ningún número de papel lo une a una entrega."},
	"got-hidden":       {"{lot} came from {from} on {when} ({mass}) as their lot “{written}”. You do not see that plant here; ask its lead.", "{lot} vino de {from} el {when} ({mass}) como su lote «{written}». Usted no ve esa planta aquí; pregunte a su responsable."},
	"got-unread":       {"{lot} came from {from} on {when} ({mass}) as their lot “{written}”. The records there can not be read now.", "{lot} vino de {from} el {when} ({mass}) como su lote «{written}». Los registros de allí no se pueden leer ahora."},
}
