// Package words takes a sentence in English, as the code holds it, and gives
// it in the reader's language to every surface that a runner or a coach
// reads: card, plan, handout, calendar, track and command line.
//
// The message in English is its own name. It stands in the code where it is
// used, with the verbs of package fmt for what is filled in, and a language
// is one file, from the message to its translation: es.json, de.json. en.json
// lists every message for whoever writes the next file. A message that a
// language lacks is shown in English.
//
// There are two doors. Say is for code that writes a sentence itself. Of is
// for sentences that were written in English further down the line (a
// verdict, a reason, a plan on file): it finds the message that the sentence
// was made from and fills what was in it into the translation. So a check's
// JSON stays in one language, and can be shown in any.
package words
