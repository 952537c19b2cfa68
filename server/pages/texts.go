package pages

import "fmt"

// Languages are those the pages speak; the first is used when a person's is not among them.
func Languages() []string { return []string{"en", "es"} }

// Text is a text of the table in a language, with its values filled in. A key that is not there is a fault of the
// program, found by a test; the key itself is shown.
func Text(lang, key string, args ...any) string {
	s, err := text(lang, key, args...)
	if err != nil {
		return key
	}
	return s
}

func text(lang, key string, args ...any) (string, error) {
	row, ok := texts[key]
	if !ok {
		return "", fmt.Errorf("there is no text %q", key)
	}
	s := row.en
	if lang == "es" {
		s = row.es
	}
	if len(args) == 0 {
		return s, nil
	}
	return fmt.Sprintf(s, args...), nil
}

// said is one text in each language. Values are filled in by place: both must have the same ones in the same order.
type said struct{ en, es string }

// texts is everything the pages and the server say to people, but for the errors of the book, which name values.
var texts = joined(basicTexts, peopleTexts, planTexts, apiTexts, officeTexts, ruleTexts, floorTexts, plantTexts, networkTexts, crewTexts, goodsTexts, auditorTexts, companyTexts, healthTexts)

// joined is several tables as one. A key in two of them is a fault of the program.
func joined(tables ...map[string]said) map[string]said {
	all := map[string]said{}
	for _, table := range tables {
		for key, s := range table {
			if _, twice := all[key]; twice {
				panic("the text " + key + " is there twice")
			}
			all[key] = s
		}
	}
	return all
}

var basicTexts = map[string]said{
	// around every page
	"skip":           {"Skip to the work", "Ir al contenido"},
	"nav":            {"Pages", "Páginas"},
	"nav-here":       {"In this part", "En esta parte"},
	"nav-today":      {"Today", "Hoy"},
	"nav-findings":   {"Findings", "Hallazgos"},
	"nav-papers":     {"Papers", "Papeles"},
	"nav-binder":     {"Binder", "Carpeta"},
	"nav-plant":      {"Plant", "Planta"},
	"sign-out":       {"Sign out", "Salir"},
	"other-language": {"Español", "English"},
	"footer-head":    {"Journal: %d entries", "Diario: %d registros"},
	"look-again":     {"Please look at this", "Revise esto"},
	"choose":         {"Choose…", "Elija…"},
	"name":           {"Name", "Nombre"},
	"role":           {"Role", "Función"},
	"role-crew":      {"crew", "equipo"},
	"role-lead":      {"lead", "responsable"},
	"role-visitor":   {"visitor", "visita"},
	"position":       {"Entry %s", "Registro %s"},

	// who is asking
	"no-plan":    {"No plan has been adopted yet, so there is nobody to choose and no work to do.", "Todavía no se ha adoptado ningún plan; no hay a quién elegir ni trabajo pendiente."},
	"no-plan-do": {"Write the plant's plan and adopt it from the command line; then load this page again.", "Escriba el plan de la planta y adóptelo desde la línea de comandos; después cargue esta página de nuevo."},
	"not-you":    {"This form was opened by %s and you are %s. Check what it says; if it was you who did the work, sign it again.", "Este formulario lo abrió %s y usted es %s. Revise lo que dice; si el trabajo lo hizo usted, fírmelo de nuevo."},

	// today's work
	"todays-work":     {"Today’s work", "Trabajo de hoy"},
	"choose-station":  {"Choose a station", "Elegir un puesto"},
	"whole-plant":     {"Whole plant", "Toda la planta"},
	"n-waiting":       {"%d now", "%d ahora"},
	"part-now":        {"Now", "Ahora"},
	"part-later":      {"Later today", "Más tarde hoy"},
	"part-done":       {"Done and closed today", "Hecho y cerrado hoy"},
	"part-needed":     {"Whenever it is done", "Cuando se haga"},
	"show-needed":     {"Show work that has no set time", "Mostrar trabajo sin hora fija"},
	"nothing-now":     {"Nothing is due now.", "No hay nada pendiente ahora."},
	"nothing-later":   {"Nothing more today.", "Nada más por hoy."},
	"nothing-done":    {"Nothing yet today.", "Todavía nada hoy."},
	"done-last":       {"The last %d of %d. The others are among the records.", "Los últimos %d de %d. Los demás están entre los registros."},
	"lead-signs":      {"lead signs", "firma el responsable"},
	"due-by":          {"by %s", "hasta %s"},
	"opens-due":       {"from %s, by %s", "desde %s, hasta %s"},
	"done-by":         {"%s, %s", "%s, %s"},
	"state-overdue":   {"Overdue", "Atrasado"},
	"state-open":      {"To do", "Por hacer"},
	"state-coming":    {"Coming", "Próximo"},
	"state-done":      {"Done", "Hecho"},
	"state-late":      {"Done late", "Hecho tarde"},
	"state-failed":    {"Did not pass", "No pasó"},
	"state-put-right": {"Put right", "Corregido"},
	"state-missed":    {"Missed", "No se hizo"},
	"state-excused":   {"Excused", "Dispensado"},

	// signing off
	"correcting":      {"Correction of", "Corrección de"},
	"not-yours":       {"The plan leaves this work to a lead. If you did it all the same, sign it: the record will say so.", "El plan reserva este trabajo al responsable. Si usted lo hizo de todos modos, fírmelo: el registro lo dirá."},
	"cautions":        {"Before you start", "Antes de empezar"},
	"optional":        {"(may be left out)", "(puede omitirse)"},
	"agents":          {"What was used", "Qué se usó"},
	"agent-lot":       {"Lot or drum", "Lote o bidón"},
	"agent-lot-of":    {"Lot or drum of: %s", "Lote o bidón de: %s"},
	"trainees":        {"Who took part", "Quién participó"},
	"second":          {"Who stood by", "Quién estuvo presente"},
	"outcome":         {"How did it go?", "¿Cómo resultó?"},
	"passed":          {"Passed", "Pasó"},
	"failed":          {"Did not pass", "No pasó"},
	"action-taken":    {"Action taken", "Acción tomada"},
	"action-hint":     {"If something was not right: what did you do about it?", "Si algo no estaba bien: ¿qué hizo al respecto?"},
	"action-asked":    {"An answer is outside its limits. What did you do about it?", "Una respuesta está fuera de sus límites. ¿Qué hizo al respecto?"},
	"none-taken":      {"No action was taken", "No se tomó ninguna acción"},
	"sign-without":    {"Sign without what is missing; the record will show that it is missing", "Firmar sin lo que falta; el registro mostrará que falta"},
	"more":            {"Done earlier, or a remark?", "¿Se hizo antes, o una nota?"},
	"when-done":       {"When it was finished", "Cuándo se terminó"},
	"when-hint":       {"Leave it empty for now. The plant’s time.", "Déjelo vacío si fue ahora. Hora de la planta."},
	"when-hint-fix":   {"Leave it empty if the time was right. The plant’s time.", "Déjelo vacío si la hora era correcta. Hora de la planta."},
	"note":            {"Remark", "Nota"},
	"reason":          {"Why is it corrected?", "¿Por qué se corrige?"},
	"reason-hint":     {"The first record stays and can be read beside this one.", "El primer registro se conserva y se puede leer junto a este."},
	"signing-as":      {"Signed by %s", "Firmado por %s"},
	"sign-it":         {"Sign it off", "Firmar"},
	"correct-it":      {"Write the correction", "Escribir la corrección"},
	"photo-kept":      {"The photo is kept; choose another only to replace it.", "La foto está guardada; elija otra solo para reemplazarla."},
	"yes":             {"Yes", "Sí"},
	"no":              {"No", "No"},
	"limits-between":  {"%s to %s", "de %s a %s"},
	"limits-from":     {"%s or more", "%s o más"},
	"limits-to":       {"%s or less", "%s o menos"},
	"right-answer":    {"should be: %s", "debe ser: %s"},
	"not-a-number":    {"“%s” is not a number. Write it like 12, 3.5 or -0.25.", "«%s» no es un número. Escríbalo como 12, 3.5 o -0.25."},
	"unanswered":      {"Not answered yet", "Todavía sin respuesta"},
	"not-answered":    {"%s: not answered", "%s: sin respuesta"},
	"is-outside":      {"%s: %s is outside the limits (%s)", "%s: %s está fuera de los límites (%s)"},
	"outcome-missing": {"Say whether it passed.", "Diga si pasó."},
	"second-missing":  {"Say who stood by.", "Diga quién estuvo presente."},
	"action-missing":  {"Write down the action taken, or say that none was.", "Anote la acción tomada, o diga que no se tomó ninguna."},
	"when-unreadable": {"The time it was finished can not be read.", "No se puede leer la hora en que se terminó."},
	"when-future":     {"The time it was finished lies in the future.", "La hora en que se terminó está en el futuro."},
	"reason-missing":  {"Say why.", "Diga por qué."},
	"too-long":        {"A text has more than %d characters. Shorten it.", "Un texto tiene más de %d caracteres. Acórtelo."},
	"photo-wrong":     {"That file is not a JPEG or PNG picture.", "Ese archivo no es una imagen JPEG o PNG."},
	"photo-large":     {"That picture is larger than 16 MiB.", "Esa imagen ocupa más de 16 MiB."},
	"choice-wrong":    {"“%s” is not one of the choices.", "«%s» no es una de las opciones."},

	// after signing
	"written-down":     {"Written down", "Anotado"},
	"corrected-now":    {"Correction written down", "Corrección anotada"},
	"position-is":      {"Its place in the journal:", "Su lugar en el diario:"},
	"it-passes":        {"It passes by the plan.", "Pasa según el plan."},
	"it-does-not-pass": {"As written it does not pass by the plan. If it can still be put right, do it and sign again.", "Tal como está no pasa según el plan. Si todavía se puede corregir, hágalo y firme de nuevo."},
	"next-here":        {"Next at this station", "Lo siguiente en este puesto"},
	"nothing-next":     {"Nothing else is due here now.", "No hay nada más pendiente aquí ahora."},
	"work-here":        {"Work at this station", "Trabajo de este puesto"},
	"all-work":         {"All of today’s work", "Todo el trabajo de hoy"},
	"put-right-entry":  {"Correct this entry", "Corregir este registro"},
	"said-failed":      {"It was signed as not passed.", "Se firmó como no pasado."},

	// findings
	"findings":          {"What the records show", "Lo que muestran los registros"},
	"as-of":             {"As of %s", "A fecha de %s"},
	"certifier-decides": {"These are findings from the records. The certifier and the authority having jurisdiction decide.", "Son hallazgos de los registros. Deciden el certificador y la autoridad competente."},
	"by-severity":       {"By severity", "Por gravedad"},
	"severity-critical": {"Critical", "Crítico"},
	"severity-major":    {"Major", "Mayor"},
	"severity-minor":    {"Minor", "Menor"},
	"severity-note":     {"Note", "Nota"},
	"open-ones":         {"Open (%d)", "Abiertos (%d)"},
	"all-of-them":       {"All (%d)", "Todos (%d)"},
	"standing-open":     {"Not answered", "Sin respuesta"},
	"standing-answered": {"Answered, still open", "Respondido, sigue abierto"},
	"standing-closed":   {"Closed", "Cerrado"},
	"evidence":          {"Entries", "Registros"},
	"answers":           {"Answers", "Respuestas"},
	"answer-it":         {"Answer", "Responder"},
	"none-of-these":     {"None of this severity.", "Ninguno de esta gravedad."},
	"no-findings":       {"The records show nothing to answer.", "Los registros no muestran nada que responder."},
	"from-to-of":        {"%d to %d of %d", "%d a %d de %d"},
	"newer":             {"Back", "Atrás"},
	"older":             {"More", "Más"},
	"age-today":         {"today", "hoy"},
	"age-one":           {"1 day ago", "hace 1 día"},
	"age-days":          {"%d days ago", "hace %d días"},
	"answer-finding":    {"Answer a finding", "Responder a un hallazgo"},
	"cause":             {"What was the cause?", "¿Cuál fue la causa?"},
	"answer-action":     {"What was done about it?", "¿Qué se hizo al respecto?"},
	"lots":              {"What happens to the lots it touched? If none, why?", "¿Qué pasa con los lotes afectados? Si no hay, ¿por qué?"},
	"prevention":        {"What keeps it from coming back?", "¿Qué evita que se repita?"},
	"closes":            {"Does this close it?", "¿Queda cerrado?"},
	"closes-yes":        {"Yes, closed", "Sí, cerrado"},
	"closes-no":         {"No, more to do", "No, falta algo"},
	"sign-answer":       {"Sign the answer", "Firmar la respuesta"},
	"answer-missing":    {"Fill in: %s", "Falta: %s"},

	// an entry
	"kind-plan":         {"Plan adopted", "Plan adoptado"},
	"kind-signoff":      {"Sign-off", "Firma de trabajo"},
	"kind-deviation":    {"Deviation", "Desviación"},
	"kind-answer":       {"Answer", "Respuesta"},
	"kind-review":       {"Review", "Revisión"},
	"kind-excuse":       {"Excuse", "Dispensa"},
	"kind-document":     {"Document", "Documento"},
	"kind-correct":      {"Correction", "Corrección"},
	"kind-other":        {"Entry", "Registro"},
	"meaning-performed": {"performed", "realizó"},
	"meaning-verified":  {"verified", "verificó"},
	"meaning-approved":  {"approved", "aprobó"},
	"meaning-received":  {"received", "recibió"},
	"meaning-released":  {"released", "liberó"},
	"signed-by":         {"Signed by", "Firmado por"},
	"happened":          {"Done at", "Hecho a las"},
	"recorded":          {"Written down at", "Anotado a las"},
	"device":            {"Device", "Dispositivo"},
	"as-it-counts":      {"As it counts now", "Como cuenta ahora"},
	"what-it-says":      {"What it says", "Lo que dice"},
	"as-first-written":  {"As first written", "Como se escribió primero"},
	"corrections":       {"Corrections", "Correcciones"},
	"was-withdrawn":     {"This entry was withdrawn. It stays to be read and no longer counts.", "Este registro fue retirado. Se conserva para leerlo y ya no cuenta."},
	"was-corrected":     {"This entry was corrected. Both readings are below.", "Este registro fue corregido. Abajo están las dos versiones."},
	"withdrawn-by":      {"Withdrawn by %s", "Retirado por %s"},
	"replaced-by":       {"Replaced by %s", "Reemplazado por %s"},
	"leaf":              {"Leaf hash:", "Huella:"},
	"outside":           {"outside the limits", "fuera de los límites"},
	"withdraw":          {"Withdraw an entry", "Retirar un registro"},
	"withdraw-instead":  {"Withdraw it instead", "Retirarlo en su lugar"},
	"withdraw-both-stay": {"Use this when the work was not done at all, or was signed at the wrong station. Both entries stay to be read.",
		"Úselo cuando el trabajo no se hizo, o se firmó en otro puesto. Ambos registros se conservan."},
	"withdraw-reason": {"Why is it withdrawn?", "¿Por qué se retira?"},
	"withdraw-it":     {"Withdraw it", "Retirarlo"},
	"row-task":        {"Task", "Tarea"},
	"row-station":     {"Station", "Puesto"},
	"row-window":      {"For the window that opened", "Para el turno que abrió"},
	"row-outcome":     {"Outcome", "Resultado"},
	"row-action":      {"Action taken", "Acción tomada"},
	"row-agent":       {"Agent used", "Producto usado"},
	"row-lots":        {"Lots", "Lotes"},
	"row-second":      {"Second person", "Segunda persona"},
	"row-trainees":    {"Took part", "Participó"},
	"row-note":        {"Remark", "Nota"},
	"row-reason":      {"Reason", "Motivo"},
	"row-target":      {"Corrects", "Corrige"},
	"row-withdraws":   {"Withdraws it", "Lo retira"},
	"row-finding":     {"Finding", "Hallazgo"},
	"row-deviation":   {"Deviation", "Desviación"},
	"row-what":        {"What happened", "Qué pasó"},
	"row-from":        {"From", "Desde"},
	"row-to":          {"To", "Hasta"},
	"row-except":      {"Not accepted", "No aceptado"},
	"row-document":    {"Document", "Documento"},
	"row-issuer":      {"Issued by", "Emitido por"},
	"row-number":      {"Number", "Número"},
	"row-file":        {"File", "Archivo"},
	"row-photo":       {"photo", "foto"},
	"row-plan-hash":   {"SHA-256 of the plan", "SHA-256 del plan"},
	"row-plan-text":   {"Plan", "Plan"},
	"row-says":        {"Content", "Contenido"},

	// binder
	"binder":         {"Audit binder", "Carpeta de auditoría"},
	"binder-what":    {"One spreadsheet with every record of a period, the findings with their answers, and the proof that nothing was changed.", "Una hoja de cálculo con todos los registros de un período, los hallazgos con sus respuestas y la prueba de que nada se cambió."},
	"from-day":       {"First day", "Primer día"},
	"to-day":         {"Last day", "Último día"},
	"make-binder":    {"Make the binder", "Hacer la carpeta"},
	"made-lately":    {"Made lately", "Hechas hace poco"},
	"job-running":    {"It is being made…", "Se está haciendo…"},
	"job-done":       {"Ready", "Lista"},
	"job-failed":     {"Could not be made", "No se pudo hacer"},
	"look-now":       {"Look again", "Mirar de nuevo"},
	"download":       {"Download the binder", "Descargar la carpeta"},
	"another-binder": {"Another period", "Otro período"},
	"day-unreadable": {"Choose a day.", "Elija un día."},
	"days-reversed":  {"The last day lies before the first.", "El último día está antes del primero."},
	"period":         {"%s to %s", "%s a %s"},
	"binder-busy":    {"Another binder is being made. Wait for it; it is listed below.", "Se está haciendo otra carpeta. Espere; está en la lista de abajo."},

	// when something goes wrong
	"request":       {"Request", "Petición"},
	"back-to-work":  {"Back to the work", "Volver al trabajo"},
	"back-to-start": {"Back to the start", "Volver al inicio"},
	"not-found":     {"That page is not here", "Esa página no está"},
	"not-found-say": {"The address may be mistyped, or what it names was never written down.", "La dirección puede estar mal escrita, o lo que nombra nunca se anotó."},
	"forbidden":     {"That is not yours to do", "Eso no le corresponde"},
	"forbidden-say": {"The plan gives you the role “%s”. This page needs the role “%s”. Ask a lead, or sign in as somebody else.", "El plan le da la función «%s». Esta página requiere la función «%s». Pregunte a un responsable o entre como otra persona."},
	"sign-in-first": {"Sign in first", "Entre primero"},
	"ended-nothing": {"Your sign-in has ended and nothing was written. Sign in and send it again.", "Su sesión terminó y no se anotó nada. Entre y envíelo de nuevo."},
	"cross-site":    {"That came from another page", "Eso vino de otra página"},
	"cross-say":     {"The request was not sent from one of these pages, so it was not taken. Open the page here and send it again.", "La petición no se envió desde una de estas páginas y no se aceptó. Abra la página aquí y envíela de nuevo."},
	"too-large":     {"That is too large", "Es demasiado grande"},
	"too-large-say": {"Pictures may be 16 MiB at most, and everything in one form together 40 MiB.", "Las imágenes pueden ocupar 16 MiB como máximo, y todo el formulario junto 40 MiB."},
	"conflict":      {"That was already signed", "Eso ya se firmó"},
	"conflict-say":  {"This form was already sent once and is at position %s of the journal, with other answers. To change it, open that entry and correct it.", "Este formulario ya se envió una vez y está en la posición %s del diario, con otras respuestas. Para cambiarlo, abra ese registro y corríjalo."},
	"invalid":       {"That can not be written down", "Eso no se puede anotar"},
	"trouble":       {"Something is wrong on our side", "Algo falla de nuestro lado"},
	"trouble-say":   {"Nothing was lost that was written down before. Try again; if it stays, tell the lead the number below.", "No se perdió nada de lo anotado antes. Pruebe de nuevo; si sigue, dé al responsable el número de abajo."},
	"unavailable":   {"Not now", "Ahora no"},
	"disk-full":     {"The disk of the plant’s computer is full: nothing of this was saved. Tell the lead that space has to be made on it, then send it again; what was written down before is safe and can be read.", "El disco del ordenador de la planta está lleno: no se guardó nada de esto. Avise al responsable de que hay que liberar espacio y envíelo de nuevo; lo anotado antes está a salvo y se puede leer."},
	"no-writing":    {"Nothing can be written to the plant’s records at the moment: nothing of this was saved. Tell the lead the number below; what was written down before is safe and can be read.", "Ahora no se puede escribir en los registros de la planta: no se guardó nada de esto. Dé al responsable el número de abajo; lo anotado antes está a salvo y se puede leer."},
}
