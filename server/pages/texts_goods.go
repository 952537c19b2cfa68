package pages

// goodsTexts are the words for entries about goods.
var goodsTexts = map[string]said{
	"kind-receipt":  {"Receipt", "Recepción"},
	"kind-move":     {"Move", "Movimiento"},
	"kind-process":  {"Process", "Proceso"},
	"kind-handover": {"Handover", "Entrega"},
	"kind-count":    {"Count", "Recuento"},
	"kind-hold":     {"Hold", "Retención"},
	"kind-release":  {"Release or rejection", "Liberación o rechazo"},
	"kind-purge":    {"Purge", "Purga"},
	"kind-result":   {"Test result", "Resultado de análisis"},
	"kind-sample":   {"Retained samples", "Muestras guardadas"},

	"g-signature":    {"Signature drawn", "Firma dibujada"},
	"g-signature-of": {"Signature drawn by %s", "Firma dibujada por %s"},
}
