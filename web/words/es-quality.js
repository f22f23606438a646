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
  'lot.to-rework':
    'Parte de esta partida solo puede reprocesarse, como se dice en Retenciones. No debe enviarse ni certificarse tal cual.',
  'board.what': 'Todo lo que está retenido ahora y lo que falta para poder decidir.',
  'board.none': 'No hay nada retenido.', 'board.days.one': '{n} día', 'board.days.other': '{n} días',
  'board.hours.one': '{n} hora', 'board.hours.other': '{n} horas', 'board.by': 'por {by}, {at}',
  'board.asked-at': 'tal como se preguntó en el asiento {seq}',
  'board.nobody': 'Nada de ello, ni nada hecho con ello, ha salido de la fábrica.',
  'board.customers.one': '{n} cliente:', 'board.customers.other': '{n} clientes:',
  'board.reels.one': '({n} partida enviada)', 'board.reels.other': '({n} partidas enviadas)',
  'board.reach': 'Adónde llegó', 'board.there': 'Queda', 'board.gone': 'Usado antes o a pesar de ella',
  'board.lots': 'Partidas retenidas', 'board.decides': 'Quién decide', 'board.nobody-named': 'nadie nombrado',
  'board.has': 'Quién tiene metal de ello', 'board.looking': 'se está buscando',
  'board.what-lots.one': 'Qué partida', 'board.what-lots.other': 'Qué {n} partidas',
  'board.sums.one': '{n} retención abierta: quedan {length}, {mass}.',
  'board.sums.other': '{n} retenciones abiertas: quedan {length}, {mass}.', 'board.order': 'Orden',
  'board.order.weight': 'Más pesadas primero', 'board.order.age': 'Más antiguas primero',
  'second.not-needed':
    'Puede decidirlo una sola persona: nada de ello falló un ensayo y no viene de una retirada.',
  'second.failed': 'Metal retenido falló el ensayo {test}.', 'second.recalled': 'Viene de una retirada.',
  'second.waits': 'Espera a una segunda persona.',
  'second.open':
    'Debería dar su conformidad una segunda persona; en modo abierto no puede nadie, y la liberación lo dirá.',
  'second.agreed': '{by} da su conformidad: {what}.', 'second.part.one': 'Para {n} partida.',
  'second.part.other': 'Para {n} partidas.', 'decide.open': 'Decidir',
  'decide.as-agreed': 'Liberar según la conformidad de {by}', 'agree.open': 'Dar conformidad',
  'release.title': 'Decidir sobre la retención {hold}',
  'agree.title': 'Conformidad con una decisión sobre la retención {hold}',
  'agree.what':
    'Su palabra vale para una sola liberación de esta retención, por otra persona, tal como aquí se dice y no más.',
  'release.go': 'Anotar la decisión', 'agree.go': 'Anotar mi conformidad',
  'release.done': 'La decisión sobre {hold} queda anotada.',
  'agree.done': 'Su conformidad queda anotada. Otra persona puede ahora liberar {hold} así.',
  'decide.what': '¿Qué se hace con ello?', 'decide.what-missing': 'Elija qué se hace con ello.',
  'decide.reason-missing': 'Dé el motivo.', 'decide.release': 'Conforme: puede usarse, enviarse y certificarse',
  'decide.concession': 'Se usa tal cual; disculpa un ensayo no conforme',
  'decide.rework': 'Solo vuelve a los procesos que se nombren; ni se envía ni se certifica',
  'decide.regrade': 'Sigue como otra calidad', 'decide.scrap': 'Lo que queda es chatarra, desde ya',
  'decide.into': '¿A qué procesos?', 'decide.into.hint': 'Ninguno marcado: a cualquiera menos el corte.',
  'decide.into-these': 'a {processes}', 'decide.grade': 'La calidad que recibe',
  'decide.as-grade': 'como {grade}', 'decide.lots': 'Solo algunas partidas',
  'decide.lots.hint':
    'Ninguna marcada: toda la retención. Con una sola marcada se puede dar una parte, desde el extremo interior.',
  'decide.from': 'Desde ({unit})', 'decide.to': 'Hasta ({unit})',
  'decide.part-of-one': 'Solo se puede dar una parte de una partida: marque únicamente esa.',
  'decide.not-a-place': '«{text}» no es un lugar en ella.', 'hold.decides': 'Quién decide (si se nombra)',
  'letters.title': 'Cartas a quienes lo tienen',
  'letters.what':
    'Una carta por destinatario, para que usted la lea, la cambie y la envíe. kinwire no envía nada.',
  'letters.list': 'Guardar la lista de clientes (CSV)', 'letters.copy': 'Copiar la carta',
  'letters.copied': 'Copiada.',
  'letters.select': 'Selecciónela y cópiela a mano: este navegador no deja copiar a las páginas.',
  'letters.text':
    'A {consignee}\n\nAsunto: {what}\n\nMuy señores nuestros:\n\nhemos hallado motivo para dudar del metal de mercancía que les enviamos. Según nuestros registros, tal como estaban en el asiento {seq} de nuestro libro (cabeza {root}), puede estar afectado lo siguiente:\n\n{lots}\n\nCertificados que hablan de ello: {certificates}.\n\nLes rogamos que aparten ya esta mercancía y nos digan qué sigue en su poder, qué está en uso y dónde, y a quién han pasado parte de ella. Si un cable de ella lleva cargas o personas, dejen de usarlo hasta que lo haya examinado una persona competente para decidir, según las reglas del lugar.\n\nVolveremos a escribir cuando sepamos más. Hasta entonces nos encuentran en: ____________________\n\nAtentamente,\n',
  'letters.certificates.none': 'ninguno', 'letters.certain': 'afectado con seguridad',
  'letters.possible': 'posiblemente afectado', 'letters.lot': '  {lot}, envío {consignment} del {at}: {sure}',
  'board.csv.consignee': 'destinatario', 'board.csv.consignment': 'envío', 'board.csv.sent': 'enviado',
  'board.csv.lot': 'partida', 'board.csv.verdict': 'afectado', 'board.csv.length': 'afectado_mm',
  'board.csv.mass': 'afectado_g', 'board.csv.certificates': 'certificados',
};
