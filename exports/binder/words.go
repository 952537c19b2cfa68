package binder

import "maps"

// say is a heading, word or sentence of the binder in its language. The English is the key; a test holds every key used in
// this package against the list, so that nothing is half translated.
func (b *builder) say(english string) string { return sayIn(b.lang, english) }

func sayIn(lang, english string) string {
	if lang == "es" {
		if s, ok := spanish[english]; ok {
			return s
		}
	}
	return english
}

var spanish = func() map[string]string {
	all := maps.Clone(workWords)
	maps.Copy(all, goodsWords)
	return all
}()

var workWords = map[string]string{
	// sheets
	"Cover": "Portada", "Clauses": "Cláusulas", "Sanitation": "Saneamiento", "Footwear": "Calzado", "Floor cleaning": "Limpieza de pisos", "Clean-out": "Vaciado y limpieza",
	"Turning": "Volteo", "Monitoring": "Monitoreo", "Pests": "Plagas", "Water": "Agua", "Calibration": "Calibración", "Training": "Capacitación", "Walk-round": "Recorrido",
	"Other work": "Otros trabajos", "Readings": "Lecturas", "Findings": "Hallazgos", "Answers": "Respuestas", "Deviations": "Desviaciones", "Corrections": "Correcciones",
	"Reviews due": "Revisiones debidas", "Reviews": "Revisiones", "Excuses": "Dispensas", "Documents": "Documentos", "People": "Personas", "Plans": "Planes",
	"Plan text": "Texto del plan", "Proof": "Prueba", "Leaves": "Hojas", "Audit binder": "Carpeta de auditoría",

	// results, severities, roles
	"done": "hecho", "late": "tarde", "put right": "corregido", "failed": "no pasó", "missed": "sin hacer", "excused": "dispensado", "open": "abierto", "overdue": "vencido",
	"earlier try": "intento previo", "from paper, typed in by": "de papel, pasado por", "as needed": "según necesidad", "unplanned": "fuera de plan", "passed": "pasó", "still open": "pendiente", "closed": "cerrado",
	"note": "nota", "minor": "menor", "major": "mayor", "critical": "crítico", "crew": "equipo", "lead": "responsable", "visitor": "visita",

	// headings
	"About": "Sobre", "Action taken": "Acción tomada", "Address": "Dirección", "After": "Después", "Agents": "Productos", "All": "Todo", "Answers the finding": "Responde al hallazgo",
	"As it stood at": "Tal como estaba el", "As it stood at (UTC)": "Tal como estaba el (UTC)", "Asked for by the plan": "Pedido por el plan",
	"At the end of the period": "Al final del período", "Before": "Antes", "Bytes": "Bytes", "Cause": "Causa", "Certifier": "Certificador", "Clause": "Cláusula", "Closes it": "Lo cierra",
	"Code": "Código", "Corrected by": "Corregido por", "Corrects": "Corrige", "Days open": "Días abierto", "Document": "Documento", "Done at": "Hecho el", "Done on time": "A tiempo",
	"Due": "Para", "Entries that show it": "Registros que lo muestran", "Entries the journal held": "Registros en el diario", "Entry": "Registro",
	"Entry first written at": "Anotado primero el", "Evidence": "Evidencia", "Field": "Campo", "File": "Archivo", "Finding": "Hallazgo", "First day": "Primer día", "From": "Desde",
	"From position": "Desde posición", "Gaps: open findings": "Faltas: hallazgos pendientes", "High limit": "Límite alto", "Holds from": "Vale desde", "Holds to": "Vale hasta",
	"In force from": "Vigente desde", "In force until": "Vigente hasta", "In limits": "En límites", "Initials": "Iniciales", "Instrument": "Instrumento", "Issued by": "Emitido por",
	"Journal": "Diario", "Journal position": "Posición en el diario", "Kind": "Tipo de registro", "Language": "Idioma", "Lapses": "Caduca", "Last day": "Último día", "Leaf hash": "Hash de hoja",
	"Leaf hash (hexadecimal)": "Hash de hoja (hexadecimal)", "Line": "Línea", "Lines": "Líneas", "Lots": "Lotes", "Low limit": "Límite bajo", "Made by": "Hecho por",
	"Made with": "Hecho con", "Missed": "Sin hacer", "Name": "Nombre", "Names the entry": "Nombra el registro", "Not accepted": "No aceptados", "Not reviewed": "Sin revisar",
	"Note": "Nota", "Number": "Número", "Opens": "Abre", "Other sheets": "Otras hojas", "Others": "Otras personas", "Owed": "Debido", "Period": "Período", "Person": "Persona",
	"Plant": "Planta", "Position": "Posición", "Positions": "Posiciones", "Prevention": "Prevención", "Question": "Pregunta", "Reading": "Lectura", "Reason": "Motivo", "Records": "Registros",
	"Records signed here": "Registros firmados aquí", "Records that are evidence": "Registros que son evidencia", "Result": "Resultado", "Review by": "Revisar hasta",
	"Reviewed at": "Revisado el", "Reviewed by entries": "Revisado por registros", "Role": "Función", "Rows": "Filas", "Rows a sheet may have": "Filas que admite una hoja",
	"Rule": "Regla", "SHA-256": "SHA-256", "SHA-256 of its text": "SHA-256 de su texto", "Severity": "Gravedad", "Sheet": "Hoja", "Signed as": "Firmado como",
	"Signed tree head, line by line": "Cabeza del árbol firmada, línea a línea", "Since": "Desde el", "Standing": "Estado", "Station": "Estación", "Task": "Tarea", "Text": "Texto",
	"The plant's public key": "Clave pública de la planta", "The program says": "El programa dice", "Times": "Horas", "To": "Hasta", "To position": "Hasta posición",
	"Trained, by sign-offs": "Capacitación, por firmas", "Trained, by the plan": "Capacitación, por el plan", "Tree head": "Cabeza del árbol",
	"Tree head over them (RFC 6962, SHA-256, base64)": "Cabeza del árbol sobre ellos (RFC 6962, SHA-256, base64)", "Type": "Tipo", "Unit": "Unidad",
	"Version of this binder's layout": "Versión del formato de esta carpeta", "What it is about": "De qué trata", "What the records show": "Lo que muestran los registros",
	"What went wrong": "Qué salió mal", "Where the limit comes from": "De dónde viene el límite", "Where to look": "Dónde mirar", "Windows owed": "Turnos debidos",
	"Written down at": "Anotado el", "Written on": "Anotado en",

	// words in cells
	"(cited, and not on the plan's list)": "(citada, y no está en la lista del plan)", "(continued)": "(continúa)", "(same)": "(misma)", "NOT ANSWERED": "SIN RESPUESTA",
	"NOT RIGHT": "NO CORRECTO", "OTHER UNIT": "OTRA UNIDAD", "OUTSIDE": "FUERA", "a later answer counts": "cuenta una respuesta posterior", "all": "todas", "at least": "al menos",
	"at most": "a lo más", "both days included": "ambos días incluidos", "container": "envase", "entries": "registros", "holds": "vale", "journal position": "posición en el diario",
	"limit": "límite", "limits": "límites", "no": "no", "no file": "sin archivo", "no limit": "sin límite", "no such finding at this moment": "no hay tal hallazgo en este momento",
	"none named in the plan": "ninguno en el plan", "not yet": "todavía no", "nothing": "nada", "other unit": "otra unidad", "outside": "fuera", "outside their limits": "fuera de sus límites",
	"page": "página", "period": "período", "photo": "foto", "position": "posición", "ran out": "venció", "second": "segunda persona", "taken back": "retirado", "the plant": "la planta",
	"the whole entry": "el registro entero", "trained": "capacitados", "where formula and program differ": "donde fórmula y programa difieren", "within": "dentro", "yes": "sí",
	"as the plant's clock showed them, zone": "según el reloj de la planta, zona",

	// titles
	"Answers to findings and deviations: cause, action, lots, prevention":                  "Respuestas a hallazgos y desviaciones: causa, acción, lotes, prevención",
	"Corrections: what was written first stays, and what counts instead":                   "Correcciones: lo escrito primero queda, y lo que cuenta en su lugar",
	"Deviations: what somebody saw go wrong":                                               "Desviaciones: lo que alguien vio salir mal",
	"Documents on file, with their validity and the SHA-256 of their bytes":                "Documentos archivados, con su validez y el SHA-256 de sus bytes",
	"Excuses: due work the lead excused, and why":                                          "Dispensas: trabajo debido que el responsable dispensó, y por qué",
	"Findings: what the records show; the certifier and the authority decide what follows": "Hallazgos: lo que muestran los registros; el certificador y la autoridad deciden qué sigue",
	"Findings, by severity": "Hallazgos, por gravedad", "Work, by family": "Trabajo, por familia", "How to read this": "Cómo leer esto", "How to check this binder": "Cómo comprobar esta carpeta",
	"Index by clause: which records are evidence for it, and what is missing":                              "Índice por cláusula: qué registros son evidencia y qué falta",
	"Leaves: the hash of every entry this binder speaks of":                                                "Hojas: el hash de cada registro del que habla esta carpeta",
	"No records, because the plan has no such work:":                                                       "Sin registros, porque el plan no tiene ese trabajo:",
	"Nothing in this period.":                                                                              "Nada en este período.",
	"Older findings about single pieces of work that are still open, in the binders of their own periods:": "Hallazgos anteriores sobre trabajos concretos que siguen pendientes, en las carpetas de sus períodos:",
	"People, their initials, and what they were trained in":                                                "Personas, sus iniciales y su capacitación",
	"Proof: what this binder was made from":                                                                "Prueba: de qué se hizo esta carpeta",
	"Readings: every number, held against its limits twice":                                                "Lecturas: cada número, comparado dos veces con sus límites",
	"Reviews due: the records written on a day are verified together":                                      "Revisiones debidas: los registros anotados en un día se verifican juntos",
	"Reviews: who verified which entries, and when":                                                        "Revisiones: quién verificó qué registros, y cuándo",
	"The plan in force, each that was in the period":                                                       "El plan vigente, cada uno que lo fue en el período",
	"The plan's whole text, line by line":                                                                  "El texto entero del plan, línea a línea",

	// sentences
	"This binder says what the records show. Whether that meets a rule, the certifier and the authority having jurisdiction decide.":                                                                                                                         "Esta carpeta dice lo que muestran los registros. Si eso cumple una regla lo deciden el certificador y la autoridad competente.",
	"A finding is a place where the records differ from what the plan, or the rule named beside it, asks for: work missed or late, a value outside its limits, a record incomplete or not reviewed in time. It is a question to be answered, not a verdict.": "Un hallazgo es un punto en que los registros difieren de lo que pide el plan, o la regla nombrada a su lado: trabajo sin hacer o tarde, un valor fuera de límites, un registro incompleto o sin revisar a tiempo. Es una pregunta por responder, no un veredicto.",
	"A window is one stretch in which one task at one station was to be done. It is in this binder when it was due in the period, or worked on in it; windows not open yet are left out. Owed: its time has come and it was not excused.":                    "Un turno es un lapso en que una tarea debía hacerse en una estación. Está en esta carpeta si vencía en el período o se trabajó en él; los que aún no abren se omiten. Debido: llegó su hora y no fue dispensado.",
	"Results: done (passed in time), late (passed after it was due), put right (failed first, then passed), failed, missed (nobody signed), overdue (can still be signed), open (not due yet), excused; as needed and unplanned work answers no window.":     "Resultados: hecho (pasó a tiempo), tarde (pasó después de la hora), corregido (primero falló, luego pasó), no pasó, sin hacer (nadie firmó), vencido (aún se puede firmar), abierto (aún no vence), dispensado; lo hecho según necesidad o fuera de plan no responde a ningún turno.",
	"Every row names the position of its entry in the journal; a missed window has none. The counts are formulas over the sheets: recount them. The sheet Proof says how to check each entry against the signed tree head.":                                  "Cada fila nombra la posición de su registro en el diario; un turno sin hacer no tiene. Las cuentas son fórmulas sobre las hojas: vuelva a contarlas. La hoja Prueba dice cómo comprobar cada registro con la cabeza del árbol firmada.",
	"This binder is not signed: it was made without the plant's key.":                                                                                                "Esta carpeta no está firmada: se hizo sin la clave de la planta.",
	"Who made the binder and with which version is said by the binder alone and is not signed.":                                                                      "Quién hizo la carpeta y con qué versión lo dice solo la carpeta y no está firmado.",
	"With the program and the journal: grainward verify BINDER.xlsx --dir DIR compares every cell with what the journal's first entries come to at the same moment.": "Con el programa y el diario: grainward verify BINDER.xlsx --dir DIR compara cada celda con lo que dan los primeros registros del diario en el mismo momento.",
	"Without the program: the sheet Leaves has the leaf hash of every entry this binder speaks of. It is SHA-256 over a byte 0 and then the entry's line in the journal, exactly as it stands there. A C2SP tlog-proof file leads from the leaf hash to the tree head above, and the signature below the tree head is checked with the plant's public key (C2SP signed note, Ed25519). The zip form of the binder has all of these, with a worked example.": "Sin el programa: la hoja Hojas tiene el hash de cada registro del que habla esta carpeta. Es SHA-256 sobre un byte 0 y luego la línea del registro en el diario, tal como está. Un archivo C2SP tlog-proof lleva del hash de hoja a la cabeza del árbol, y la firma se comprueba con la clave pública de la planta (C2SP signed note, Ed25519). La forma zip de la carpeta trae todo esto, con un ejemplo resuelto.",
}
