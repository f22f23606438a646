// The words of the quality pages in Spanish, beside those of es.js. Keys are those of en-quality.js.

export default {
  /* --- the hub --- */
  'page.quality': 'Calidad',
  'quality.title': 'Calidad',
  'quality.what': 'Qué está retenido y quién decide, qué se promete por escrito y qué dicen las cifras.',
  'tile.board': 'Tablero de retenciones', 'tile.board.what': 'Qué está retenido, desde cuándo, cuánto y quién decide',
  'tile.board.count.one': 'retención abierta', 'tile.board.count.other': 'retenciones abiertas',

  /* --- the hold board --- */
  'page.board': 'Tablero de retenciones',
  'board.title': 'Tablero de retenciones',
  'board.what': 'Todo lo que está retenido ahora.',
  'board.none': 'No hay nada retenido.',
  'board.since': 'desde {at}',
  'board.left': 'quedan {length}',
};
