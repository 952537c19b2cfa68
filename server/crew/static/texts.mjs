// What the crew pages say, in each language. They go with the modules that say them, so that a phone without a network
// still speaks; plan texts (titles, cautions) come with the data, in every language they have.

export const languages = ["en", "es"];
let lang = "en";

// speak chooses the language.
export function speak(l) {
  lang = languages.includes(l) ? l : "en";
  document.documentElement.lang = lang;
}
export const language = () => lang;

const texts = {};

// say adds a table {key: [English, Spanish]}; {0}, {1} are filled in by place. A key that is there already is a mistake.
export function say(table) {
  for (const [key, both] of Object.entries(table)) {
    if (texts[key]) throw new Error("the text " + key + " is there twice");
    texts[key] = both;
  }
}

// t is a text with its values filled in.
export function t(key, ...values) {
  const text = texts[key]?.[languages.indexOf(lang)] ?? key;
  return text.replace(/\{(\d)\}/g, (_, i) => values[i]);
}

// inPlan is a plan's text {en, es} in the language, or in the first it has.
export const inPlan = (text) => (typeof text === "string" ? text : (text?.[lang] ?? text?.en ?? Object.values(text ?? {})[0] ?? ""));

say({
  "go-on": ["Go on", "Continuar"],
  back: ["Back", "Atrás"],
  yes: ["Yes", "Sí"],
  no: ["No", "No"],
  skip: ["Nothing to say", "Nada que decir"],
  "n-of": ["Question {0} of {1}", "Pregunta {0} de {1}"],
  cautions: ["Before you start", "Antes de empezar"],
  "read-them": ["I have read this", "Lo he leído"],
  "not-number": ["Write a number, such as 3.5", "Escriba un número, por ejemplo 3.5"],
  "not-answered": ["Answer this, or go back.", "Responda, o vuelva atrás."],
  "choose-some": ["Choose at least one.", "Elija al menos uno."],
  between: ["should be {0} to {1}", "debe estar entre {0} y {1}"],
  "at-least": ["should be at least {0}", "debe ser al menos {0}"],
  "at-most": ["should be at most {0}", "debe ser como máximo {0}"],
  erase: ["Erase the last digit", "Borrar la última cifra"],
  point: ["Decimal point", "Punto decimal"],
  minus: ["Minus", "Menos"],
  "take-photo": ["Take a photo", "Tomar una foto"],
  "take-another": ["Take another", "Tomar otra"],
  "photo-here": ["This is the photo", "Esta es la foto"],
  "photo-wrong": ["That is not a picture this device can read.", "Eso no es una imagen que este dispositivo pueda leer."],
  "check-it": ["Check it", "Revíselo"],
});
