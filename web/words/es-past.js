// Las palabras de las páginas que miran atrás, en español.

export default {
  'past.title': 'Verlo como era',
  'past.other': 'Otro momento',
  'past.what': 'La misma pregunta, respondida como respondía el libro cuando tenía menos asientos.',
  'past.when': '¿En qué asiento, o qué día?',
  'past.when.hint': 'Un número, o un día como 2026-03-31, según cuándo se registró (UTC)',
  'past.wrong': 'Indique el número de un asiento, o un día como 2026-03-31.',
  'past.go': 'Mirar atrás',
  'past.label': 'Como era',
  'past.banner': 'COMO ERA en el asiento {size}. Esto no es lo que vale ahora.',
  'past.until': 'Registrado hasta {at}.',
  'past.making': 'Se está haciendo el libro de entonces: {done} de {of} asientos.',
  'past.now': 'Volver a ahora',
};
