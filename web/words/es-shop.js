// The words of the shop terminal in Spanish, beside those of es.js. Keys are those of en-shop.js.

export default {
  /* --- stations --- */
  'station.goods-in': 'Recepción', 'station.goods-in.what': 'Coladas, y rollos por etiqueta y masa',
  'station.cleaning': 'Limpieza', 'station.cleaning.what': 'Decapado y recubrimiento por lotes de proceso',
  'station.drawing': 'Trefilado', 'station.drawing.what': 'Rollos soldados, bobinas retiradas',
  'station.heat-treating': 'Patentado y galvanizado', 'station.heat-treating.what': 'Líneas por el horno y el cinc',
  'station.winding': 'Bobinado', 'station.winding.what': 'Rebobinar y repartir',
  'station.stranding': 'Cordonado', 'station.stranding.what': 'De bobinas a cordones',
  'station.closing': 'Cableado', 'station.closing.what': 'De cordones y alma a cable',
  'station.finishing': 'Acabado', 'station.finishing.what': 'Compactar y recubrir',
  'station.cutting': 'Corte', 'station.cutting.what': 'Cable a las longitudes de un pedido',
  'station.testing': 'Ensayos', 'station.testing.what': 'Probetas a mano o del archivo de una máquina',
  'station.stores': 'Almacén y expedición', 'station.stores.what': 'Mover y enviar',
  'choose.title': 'Terminal de taller', 'choose.station': '¿Dónde está este terminal?', 'choose.name': 'Nombre de este terminal', 'choose.name-wrong': 'Póngale un nombre: letras, cifras, «.», «/» y «-».',
  'choose.language': 'Idioma', 'choose.change': 'Cambiar puesto, nombre, unidades o idioma', 'choose.paper': 'Pasar una pasada entera desde el papel',
  'units.si.full': 'Métricas: m, mm, kg', 'units.us.full': 'EE. UU.: ft, in, lb',

  /* --- scan box, questions --- */
  'scan.enter': 'Entrar', 'scan.keys': 'Teclado en pantalla sí o no', 'scan.no-code': '«{text}» no puede ser un código.',
  'scan.goods-in': 'Lea una colada y luego la etiqueta de cada rollo', 'scan.cleaning': 'Lea las partidas que entran', 'scan.load': 'Lea una partida, o una etiqueta nueva',
  'scan.cutting': 'Lea el cable que se corta, o un pedido', 'scan.testing': 'Lea la partida que se ensaya', 'scan.stores': 'Lea partidas, una o varias',
  'ask.in': '{what}, en {unit}', 'ask.optional': '(si se sabe)', 'ask.may-be-empty': 'Solo Entrar: no visto.', 'ask.choose-first': 'Elija una opción.',
  'ask.code-instead': '{code} parece un código. Aquí se pide una cifra; Escape sale de la pregunta.', 'ask.no-figure': '«{text}» no es una cifra.',
  keypad: 'Teclas', 'keypad.back': 'Borrar la última tecla', confirm: 'Confirmar', next: 'Seguir', yes: 'Sí', no: 'No',
  'quantity.length': 'Longitud', 'quantity.mass': 'Masa',
  'wrong.code': 'Esto no puede ser un código.', 'went-wrong': 'No ha funcionado: {text}',
  unknown: 'Nada se llama {code}.', 'unknown.offline': '{code} no se conoce aquí, y no se puede preguntar al servidor.', 'unknown.which': '¿Qué es?', 'unknown.load': 'Una partida: cargarla', 'unknown.doff': 'Una etiqueta nueva: lo siguiente que sale',
  'said.unchecked': '{text}. Sin comprobar: ahora no se puede preguntar al servidor.', 'said.unknown': '{text}. La partida no se conoce aquí y nada se ha comprobado.',

  /* --- stop, guard rails --- */
  'stop.word': 'ALTO', 'stop.seen': 'Visto, volver',
  'bar.on-hold': 'Retenida. No la use.', 'bar.hold-reason': '{hold}: {reason}', 'bar.already-consumed': 'Ya está gastada.', 'bar.used-by': 'Pasada {run}, {machine}, línea {line}',
  'bar.dispatched': 'Ya se ha enviado.', 'bar.sent': 'A {consignee}', 'bar.scrapped': 'Es chatarra.', 'bar.loaded': 'Está en una máquina.', 'bar.loaded-at': '{machine}, pasada {run}, línea {line}',
  'bar.wrong-kind': 'Esto es: {kind}. No se usa en este puesto ({station}).', 'bar.code-taken': 'Este código ya está ocupado.', 'bar.unknown-lot': 'No hay tal partida.', 'bar.out-of-range': 'Más de lo que hay.',
  'bar.would-loop': 'No puede estar hecha de sí misma.', 'bar.not-complete': 'Falta algo para eso.', 'bar.bad-order': 'No en este orden.', 'bar.key-reused': 'Esta clave se usó para otro asiento.', 'bar.other': 'El libro no admite esto.',
  'finding.length-ratio': 'La longitud no cuadra con las hileras o el paso', 'finding.mass-balance': 'Las masas no cuadran', 'finding.wrong-grade': 'Calidad equivocada para el pedido', 'finding.wrong-diameter': 'Diámetro equivocado para el pedido',
  'finding.heats-mixed': 'El pedido solo admite una colada', 'finding.wrong-machine': 'Es para otra máquina', 'finding.other': 'Mire esto primero',
  'finding.go-on': 'Para seguir, dé el motivo. Queda con el asiento.', 'finding.reason': 'Motivo para seguir',
  'reason.measured': 'Medido otra vez, es correcto', 'reason.foreman': 'Lo ha decidido el encargado', 'reason.counter': 'El contador estaba mal', 'reason.trial': 'Una prueba',

  /* --- queue --- */
  'queue.waiting.one': '{n} espera', 'queue.waiting.other': '{n} esperan', 'queue.back.one': '{n} devuelto', 'queue.back.other': '{n} devueltos',
  'queue.title': 'Esperan envío: {n}. Devueltos: {back}.', 'link.here': 'Servidor', 'link.away': 'Sin servidor: se sigue aquí', 'link.stopped': 'Identifíquese: el servidor no toma nada de aquí',
  'back.title': 'Devuelto por el servidor', 'back.waiting': 'Esperan envío, en este orden', 'back.none': 'El servidor ha tomado todo lo anotado aquí.',
  'back.right': 'Corregirlo', 'back.send': 'Enviar otra vez', 'back.drop': 'Desecharlo', 'back.why': 'Por qué se desecha', 'back.drop-reason': 'Anotado por error',
  'back.behind.one': '{n} asiento de la misma pasada espera por este.', 'back.behind.other': '{n} asientos de la misma pasada esperan por este.',
  undo: 'Deshacer', 'undo.title': 'El último paso', 'undo.did': 'Deshecho: {what}', 'undo.reason': 'Deshecho en el terminal', 'undo.waits': '(espera envío)',
  'did.other': '{kind} anotado', 'did.open': 'Pasada {run} empezada en {machine}', 'did.load': '{lot} cargada en la línea {line}', 'did.change': '{lot} unida en la línea {line} a {at}', 'did.change-unseen': '{lot} unida en la línea {line}, lugar no visto',
  'did.doff': '{lot} retirada, {length}', 'did.scrap': '{length} a chatarra: {reason}', 'did.close': 'Pasada {run} cerrada', 'did.heat': 'Colada {heat} anotada', 'did.receive': '{lot} recibida, {figure}',
  'did.batch.one': 'Lote de proceso {batch}: {n} partida', 'did.batch.other': 'Lote de proceso {batch}: {n} partidas', 'did.cut.one': '{lot} cortada en {n} trozo', 'did.cut.other': '{lot} cortada en {n} trozos', 'did.test': 'Ensayo {test} de {lot}: {verdict}',
  'did.move.one': '{n} partida llevada a {location}', 'did.move.other': '{n} partidas llevadas a {location}', 'did.dispatch.one': '{n} partida enviada a {consignee}', 'did.dispatch.other': '{n} partidas enviadas a {consignee}',
  'did.mapping': 'Columnas de {instrument} guardadas', 'did.row': 'Ensayo {test} de {lot}',

  /* --- machines and runs --- */
  machines: 'Máquinas de este puesto', 'machine.which': '¿Qué máquina?', 'machine.type': 'Lea o escriba la máquina', 'machine.now': '{machine} es la máquina de delante.', 'machine.idle': 'parada', 'machine.other': 'Otra máquina', 'machine.none': 'Ninguna máquina elegida',
  'step.open': 'Empezar una pasada', 'step.doff': 'Retirar', 'step.scrap': 'Chatarra', 'step.close': 'Cerrar la pasada',
  'open.title': 'Empezar una pasada en {machine}', 'open.for': 'Para el pedido {order}: {what}', 'open.go': 'Empezar', 'open.lines': 'Líneas', 'open.core': 'Con alma', 'open.out.diameter': 'Diámetro que sale', 'open.out.lay': 'Diámetro que sale',
  'open.offer': 'No hay ninguna pasada en {machine}', 'open.offer.what': 'Hay que cargar {lot}.', 'open.split': 'Repartirla en varias',
  'run.made': 'hecho hasta ahora', 'run.made-of': 'de unos {whole} cargados', 'run.order': 'pedido {order}', 'run.out': 'a {diameter}', 'run.since': 'desde {at}', 'run.lines': 'Líneas', 'run.packages.one': '{n} hecha', 'run.packages.other': '{n} hechas',
  'line.free': 'libre', 'line.behind': '(+{n})', 'line.waits': '(espera)', 'line.rest': 'quedan {rest}', 'line.over': 'sobran {over}',
  'next.open': 'Empiece una pasada, o lea la primera partida.', 'next.load': 'Lea la partida que entra.', 'next.load-line': 'Toca cargar la línea {line}; faltan {n}. Lea una partida.', 'next.change': 'La línea {line} es la próxima en acabarse, en unos {rest}.',
  'next.doff': 'Retire lo siguiente ({kind}), o lea una partida para soldarla.', 'next.over': 'Se ha hecho más de lo cargado, {over} más. Lea la partida que entró, o cierre la pasada.',
  'change.at': '{lot} en la línea {line}: contador al pasar la unión', 'change.what': 'Detrás de {old} en la línea {line}. El contador marca unos {made}.', 'change.rest': 'Se acaba en unos {rest}.', 'change.lines': 'Otra línea', 'change.echo': 'unión a {at}', 'change.before': 'La unión anterior pasó a {at}.',
  'doff.title-length': '{lot}: longitud', 'doff.title': '{lot}: longitud o masa', 'doff.what': 'Siguiente: {kind}. Hecho hasta ahora: {made}.', 'doff.same': 'Como la última: {length}',
  'size.mass': '{mass} son {length} con {diameter}', 'size.length': '{length} son {mass} con {diameter}', 'size.none': 'Tiene que ser más que nada.',
  'scrap.title': 'Longitud a chatarra', 'scrap.word': 'chatarra', 'scrap.break': 'Rotura', 'scrap.start': 'Arranque', 'scrap.size': 'Fuera de medida', 'scrap.surface': 'Superficie', 'scrap.end': 'Final del largo',
  'close.title': '¿Qué queda en las líneas de {run}?', 'close.left': 'Queda de {lot}', 'close.line': 'Línea {line}, {lot}', 'close.what': '{run} ha hecho {made}. Lo que queda vuelve a existencias.', 'close.go': 'Cerrar la pasada',
  labels: 'Etiquetas', 'labels.one': '{n} etiqueta', 'labels.other': '{n} etiquetas', 'labels.size': 'Tamaño de las etiquetas', 'labels.100x60': '100 × 60', 'labels.100x150': '100 × 150', 'labels.62': 'rollo 62',

  /* --- goods-in --- */
  'goods.which': 'Colada', 'goods.heat-new': 'La colada {heat} es nueva', 'goods.heat-known': 'Colada {heat}, {grade}', 'goods.unasked': 'No se puede preguntar al servidor si conoce esta colada. Si la conoce, su asiento volverá y se podrá desechar.', 'goods.heat-go': 'Poner esta colada', 'goods.order': 'Pedido de compra',
  'goods.now': 'Colada {heat}', 'goods.none': 'Ninguna colada puesta', 'goods.first': 'Lea o escriba la colada.', 'goods.next': 'Lea la etiqueta del siguiente rollo.', 'goods.set': 'Poner la colada', 'goods.other': 'Otra colada', 'goods.measure': 'Medir diámetros',
  'goods.mass': '{lot}: masa', 'goods.of': 'Colada {heat}, {grade}, {diameter}', 'goods.measured': '{lot}: diámetros', 'goods.measured.what': 'Dos o más, separados por espacios; o ninguno.', 'goods.coils.one': '{n} rollo de esta colada', 'goods.coils.other': '{n} rollos de esta colada', 'goods.here-already': 'Ya es la etiqueta de: {kind}.',

  /* --- cleaning, stores --- */
  'list.added': '{lot} está en la lista ({n})', 'list.twice': '{lot} ya está en la lista.', 'list.drop': 'Quitar {lot} de la lista', 'list.clear': 'Vaciar la lista',
  'batch.first': 'Lea las partidas que entran.', 'batch.more': 'Lea más, o anote el lote de proceso.', 'batch.record.one': 'Anotar: {n} partida', 'batch.record.other': 'Anotar: {n} partidas', 'batch.title.one': '{n} partida por {machine}', 'batch.title.other': '{n} partidas por {machine}', 'batch.go': 'Anotar',
  'stores.list.one': '{n} partida en la lista', 'stores.list.other': '{n} partidas en la lista', 'stores.first': 'Lea lo que se mueve o se envía.', 'stores.more': 'Lea más, o diga adónde va.', 'stores.move-to': 'Mover a', 'stores.send': 'Enviar',
  'stores.move.one': 'Mover {n} partida', 'stores.move.other': 'Mover {n} partidas', 'stores.move-go': 'Mover', 'stores.dispatch.one': 'Enviar {n} partida', 'stores.dispatch.other': 'Enviar {n} partidas', 'stores.dispatch-go': 'Enviar',
  'stores.held': 'Una partida retenida se puede mover. No se puede enviar.', 'stores.held-word': 'retenida: solo mover',

  /* --- cutting --- */
  'cut.first': 'Lea la partida que se corta.', 'cut.title': 'Cortar {lot}', 'cut.lengths': 'Longitudes que se cortan de {lot}', 'cut.more': 'Quedan {left}. Más longitudes, o Entrar para cortar', 'cut.add': 'Poner en la lista', 'cut.add-or-cut': 'Poner, o cortar',
  'cut.echo.one': '{n} longitud, {sum}', 'cut.echo.other': '{n} longitudes, {sum} en total', 'cut.too-much': 'No se pueden cortar {asked}: quedan {left}.', 'cut.scrap-first': 'Punta a chatarra', 'cut.go.one': 'Cortar {n} longitud', 'cut.go.other': 'Cortar {n} longitudes', 'cut.away': 'Dejar la lista',
  'cut.picture': '{lot} con las longitudes de la lista; quedan {left}', 'cut.inner': 'extremo interior', 'cut.outer': 'extremo exterior, sale primero', 'cut.left': 'quedan {left}', 'cut.metres': 'de {from} a {to}', 'cut.code': 'Código del trozo {n}', 'cut.last': 'Último corte',
  'cut.order.one': 'Pedido {order}: {n} longitud. Lea el cable.', 'cut.order.other': 'Pedido {order}: {n} longitudes. Lea el cable.', 'cut.unknown-offline': '{code} no se conoce aquí, y no se puede preguntar al servidor; no se puede dibujar lo que queda.',

  /* --- testing --- */
  'test.scan': 'A mano', 'test.first': 'Lea la partida que se ensaya.', 'test.title': 'Ensayo de {lot}', 'test.go': 'Anotar el ensayo', 'test.held': 'Esta partida está retenida. Se puede ensayar.', 'test.nothing': 'Dé al menos un resultado.',
  'file.title': 'De una máquina de ensayos', 'file.drop': 'Suelte aquí el archivo de la máquina (CSV)', 'file.choose': 'Elegir un archivo', 'file.empty': '{name} no tiene filas.', 'file.insecure': 'Los archivos solo se leen por https o en la propia máquina del servidor.',
  'file.instrument.one': '{name}: {n} fila. ¿Qué máquina?', 'file.instrument.other': '{name}: {n} filas. ¿Qué máquina?', 'file.mapping': '¿Qué son las columnas de {instrument}?', 'file.mapping.what': 'Se pregunta una vez por máquina, y se guarda. Nombre y unidad de cada columna, como en «tensile_kpa MPa»; vacío: no se usa.',
  'file.keep': 'Guardar, y tomar las filas', 'file.no-target': '«{text}» no es ninguno de estos.', 'file.no-lot': 'Una columna tiene que ser la partida.', 'file.rows': 'Filas del archivo', 'file.wrong': '{column}: «{text}» no se puede leer', 'file.entry': 'asiento {seq}', 'file.again-dropped': 'Enviado de nuevo desde el archivo',
  'file.waiting': 'espera', 'file.taken': 'tomada', 'file.again': 'repetida', 'file.refused': 'rechazada', 'file.n.waiting': '{n} en espera', 'file.n.taken': '{n} tomadas', 'file.n.again': '{n} repetidas', 'file.n.refused': '{n} rechazadas',
  'entry.order': 'Pedido', 'entry.open': 'Pasada empezada', 'entry.load': 'Carga', 'entry.doff': 'Retirada', 'entry.close': 'Pasada cerrada',
  'field.reduction_ppm': 'Estricción (ppm)',
};
