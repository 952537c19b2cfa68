package lineage

// words are what the outward forms say, by the English phrase. A phrase that is missing would show as nothing, so a test
// reads the source and looks every one up.
type words map[string]string

// wordsIn is the words in a language; English for one we do not have.
func wordsIn(lang string) words {
	out := make(words, len(spanish))
	for en, es := range spanish {
		out[en] = en
		if lang == "es" {
			out[en] = es
		}
	}
	if lang != "es" {
		out["lang"] = "en"
	}
	return out
}

var spanish = map[string]string{
	"lang": "es", "Lineage": "Linaje", "Trace": "Rastreo", "both": "hacia atrás y hacia delante", "back": "hacia atrás", "forward": "hacia delante",
	"moment": "momento", "subject": "sujeto", "direction": "dirección", "bag": "saco", "none": "ninguno",
	"lot": "lote", "label": "etiqueta", "partner": "socio", "their-lot": "lote del proveedor", "station": "puesto", "agent": "agente", "person": "persona",
	"upstream": "origen", "downstream": "destino", "role": "papel", "item": "producto", "status": "estado", "begins": "comienzo", "steps": "pasos",
	"organic-100": "100 % ecológico", "organic": "ecológico", "made-with": "hecho con ecológico", "conventional": "convencional", "unknown": "desconocido",
	"entered": "entró", "used": "usado", "standing": "queda", "unexplained": "sin explicar", "dry matter": "materia seca", "share": "parte", "where": "dónde",
	"supplier's lot": "lote del proveedor", "kiln date": "fecha de tostado", "best by": "consumir antes de", "bags": "sacos", "held": "retenido",
	"yes": "sí", "no": "no", "est.": "est.", "samples": "muestras", "retained samples": "muestras guardadas",
	"About": "Acerca", "Lots": "Lotes", "Steps": "Pasos", "Movements": "Movimientos", "Consignees": "Destinatarios", "Stations": "Puestos", "Documents": "Documentos", "Holds": "Retenciones",
	"from lot": "del lote", "to lot": "al lote", "process": "proceso", "when": "cuándo", "in": "entrada", "out": "salida", "estimate": "estimación",
	"date and time": "fecha y hora", "kind": "clase", "received": "recibido", "handed-over": "entregado", "onward": "reenviado",
	"mass": "masa", "from": "de", "to": "a", "use": "uso", "packaging": "envase", "carrier": "transportista", "vehicle": "vehículo",
	"papers": "papeles", "signed by": "firmado por", "signature drawn": "firma dibujada", "confirmed": "confirmado", "accepted by": "aceptado por", "accepted on": "aceptado el", "accepted mass": "masa aceptada",
	"code": "código", "name": "nombre", "ship-to address": "dirección de entrega", "contact": "contacto", "phone": "teléfono", "e-mail": "correo", "hours": "horas",
	"24 h contact": "contacto 24 h", "direct": "directo", "shipped": "enviado", "sent by": "enviado por", "document": "documento",
	"until": "hasta", "still there": "sigue ahí", "passed": "pasó", "purge": "purga", "clean-out before": "limpieza anterior", "clean-out after": "limpieza posterior",
	"done": "hecho", "by": "por", "agents": "agentes", "people": "personas", "entry": "registro",
	"certificate": "certificado", "result": "resultado", "for": "para", "title": "título", "type": "tipo", "issuer": "emisor", "number": "número", "on file": "archivado",
	"valid that day": "válido ese día", "values": "valores", "why": "por qué", "rejected": "rechazado", "stands": "sigue", "sale": "venta", "storage": "almacenamiento",
	"feed": "pienso", "compost": "compost", "landfill": "vertedero", "sample": "muestra", "return": "devolución",
	"Mass accounted for": "Masa justificada", "on dry matter": "en materia seca", "as is": "tal cual",
	"came in": "entró", "joined from other lots": "se unió de otros lotes", "on hand": "en casa", "handed over": "entregado", "by-product": "subproducto",
	"samples kept or sent": "muestras guardadas o enviadas", "destroyed": "destruido", "process loss within its band": "pérdida de proceso dentro de su banda",
	"loss without a band": "pérdida sin banda", "loss beyond its band": "pérdida fuera de su banda",
	"A moisture is missing, so this is not on dry matter:":                              "Falta una humedad, así que esto no es en materia seca:",
	"The plan names no loss band for:":                                                  "El plan no da banda de pérdida para:",
	"Losses were held against the plan's band for the whole way from the grain.":        "Las pérdidas se compararon con la banda del plan para todo el camino desde el grano.",
	"Figures marked est. rest on what a mixed station is computed to have given out.":   "Las cifras con est. se basan en lo que se calcula que salió de un puesto mezclado.",
	"These lots are recorded as made from themselves; look for a slip:":                 "Estos lotes constan como hechos de sí mismos; busque un error:",
	"What the records show; the certifier and the authority having jurisdiction judge.": "Lo que muestran los registros; juzgan el certificador y la autoridad competente.",
	"No lot had to do with it by that moment.":                                          "Ningún lote tuvo que ver con ello hasta ese momento.",
	"and":                          "y",
	"partners":                     "socios",
	"solid line: weighed":          "línea continua: pesado",
	"dashed line: estimate (est.)": "línea discontinua: estimación (est.)",
	"double frame: subject":        "marco doble: sujeto",
	"heavy bar: held":              "barra gruesa: retenido",
	"cut corner: by-product":       "esquina cortada: subproducto", "at a line: mass that went into the step": "en la línea: masa que entró en el paso", "with": "con",
	"plant code": "código de planta", "plants away": "plantas de distancia", "clock": "reloj", "basis": "base", "received as": "recibido como", "lot as the receipt has it": "lote según el recibo",
	"how the lot is named": "cómo se nombra el lote", "rule by which they were joined": "regla por la que se unieron", "handovers it could answer": "entregas a las que podía responder",
	"receipts of the handover": "recibos de la entrega", "masses differ": "difieren las masas", "in words": "en palabras", "recorded at": "anotado en",
	"Masses are in the unit of the plant where the trace starts; dates are on the clock of the plant that wrote them.": "Las masas van en la unidad de la planta donde empieza el rastreo; las fechas, en el reloj de la planta que las anotó.",
	"Shares and the mass accounted for are, at each plant, of the lots by which the trace comes into it.":              "Las partes y la masa justificada son, en cada planta, de los lotes por los que el rastreo entra en ella.",
	"Plants": "Plantas", "From plant to plant": "De planta a planta", "Without a counterpart": "Sin correspondencia", "more; the workbook has all": "más; el libro los tiene todos",
	"double line: from plant to plant": "línea doble: de planta a planta",
	"value":                            "valor", "plant": "planta", "address": "dirección", "origin": "diario", "position": "posición", "tree head": "cabeza del árbol", "program": "programa", "made by": "hecho por",
}
