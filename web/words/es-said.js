// What the ledger says, in Spanish. Keys are those of en-said.js.

export default {
  /* --- findings --- */
  'finding.other': 'Mire esto primero',
  'finding.accepted': '{text} Aceptado: {reason}',
  'finding.length-ratio': 'La longitud no cuadra con las hileras o el paso',
  'finding.length-ratio.area':
    'Entraron {in_mm}; por su diámetro dan {implied_mm} a {diameter_um}, pero constan {made_mm} ({off_ppm}, tolerancia {tolerance_ppm}).',
  'finding.length-ratio.same':
    'Entraron {in_mm} y constan {made_mm} a la salida ({off_ppm}, tolerancia {tolerance_ppm}).',
  'finding.length-ratio.less':
    'La línea {line} tomó {in_mm} para {made_mm} de salida: lo que se tuerce nunca es más corto que lo torcido.',
  'finding.length-ratio.lay':
    'La línea {line} tomó {in_mm} para {made_mm} de salida: es más de lo que absorbe cualquier paso usual.',
  'finding.mass-balance': 'Las masas no cuadran',
  'finding.mass-balance.says':
    'Entraron {in_g} y salieron {out_g}, la chatarra por su longitud ({off_ppm}, tolerancia {tolerance_ppm}).',
  'finding.wrong-grade': 'Calidad equivocada para el pedido',
  'finding.wrong-grade.says': '{lot} es de calidad {grade}; el pedido {order} pide {asked}.',
  'finding.wrong-diameter': 'Diámetro equivocado para el pedido',
  'finding.wrong-diameter.says':
    'El paquete {package} mide {made_um}; el pedido {order} pide {asked_um}, {most_um} más o menos.',
  'finding.heats-mixed': 'El pedido solo admite una colada',
  'finding.heats-mixed.says': 'Contiene {heats} coladas; el pedido {order} admite una.',
  'finding.wrong-machine': 'Es para otra máquina',
  'finding.wrong-machine.says': 'Está en {machine}; el pedido {order} es para {asked}.',
  'finding.one-person': 'Liberado por una sola persona',
  'finding.one-person.failed': 'No superó el ensayo {test} y lo liberó una sola persona.',
  'finding.one-person.recalled': 'Venía de una retirada y lo liberó una sola persona.',
  'finding.on-hold': 'Registrada sobre metal retenido',
  'finding.on-hold.says': 'Registrada sobre metal retenido; lo que produjo queda en la misma retención: {reason}',
  'finding.length-mass': 'La longitud y la masa no cuadran',
  'finding.length-mass.says':
    '{length_mm} a {diameter_um} pesan {implied_g} a 7850 kg/m³, pero constan {mass_g}.',
  'finding.verdict-differs': 'El dictamen no es el de los límites',
  'finding.verdict-differs.fails':
    'Consta como {said}; según {spec} versión {version} no es conforme: {property} {value} pasa el límite en {beyond}.',
  'finding.verdict-differs.passes':
    'Consta como {said}; según {spec} versión {version} es conforme: no pasa ningún límite.',
  'finding.out-of-calibration': 'Medido fuera de la calibración',
  'finding.out-of-calibration.from':
    'La calibración de {instrument} vale desde {bound_at}; el ensayo se hizo el {made_at}.',
  'finding.out-of-calibration.until':
    'La calibración de {instrument} vale hasta {bound_at}; el ensayo se hizo el {made_at}.',

  /* --- who has taken a length --- */
  'claim.run': 'la pasada {code}', 'claim.test': 'la muestra del ensayo {code}',
  'claim.consignment': 'el envío {code}, que ya salió', 'claim.scrap': 'chatarra (asiento {seq})',

  /* --- refusals: the word, and the sentences --- */
  'bar.other': 'El libro no admite esto.',
  'bar.unfit': 'El asiento {seq} ya no encajaría: {text}',
  'bar.in-english': '{words} (En inglés: {text})',
  'bar.to-rework': 'Hay que reprocesarla antes. No la use aquí.',
  'bar.to-rework.fed':
    '{lot} debe reprocesarse de {from_mm} a {to_mm} (retención {hold}: {into}) y no puede entrar en {process}: {reason}',
  'bar.to-rework.sent': '{lot} debe reprocesarse de {from_mm} a {to_mm} (retención {hold}: {into}) y no puede enviarse: {reason}',
  'bar.to-rework.certified':
    '{lot} debe reprocesarse de {from_mm} a {to_mm} (retención {hold}: {into}) y no puede certificarse: {reason}',
  'said.any-but-cut': 'cualquier proceso menos el corte',
  'bar.not-agreed': 'Antes debe dar su conformidad una segunda persona.',
  'bar.not-agreed.failed':
    'No superó el ensayo {test}: otra persona debe dar su conformidad antes de liberar {hold}. La encuentra en el tablero de retenciones.',
  'bar.not-agreed.recalled':
    'Viene de una retirada: otra persona debe dar su conformidad antes de liberar {hold}. La encuentra en el tablero de retenciones.',
  'bar.on-hold': 'Retenida. No la use.',
  'bar.on-hold.fed':
    '{lot} está retenida por {hold} de {from_mm} a {to_mm} y no puede alimentarse: {reason}',
  'bar.on-hold.sent': '{lot} está retenida por {hold} de {from_mm} a {to_mm} y no puede enviarse: {reason}',
  'bar.on-hold.certified':
    '{lot} está retenida por {hold} de {from_mm} a {to_mm} y no puede certificarse: {reason}',
  'bar.already-consumed': 'Ya está gastada.',
  'bar.already-consumed.taken':
    'De {lot} ya se tomó de {from_mm} a {to_mm}: {by}; no puede tomarse de {asked_from_mm} a {asked_to_mm}.',
  'bar.already-consumed.nothing-left': 'No queda nada de {lot}; la tomó: {by}.',
  'bar.already-consumed.steps': 'La pasada tiene {steps} pasos; anúlelos antes, empezando por el último.',
  'bar.code-taken': 'Este código ya está ocupado.',
  'bar.code-taken.says': '{code} ya está en uso (asiento {seq}). Un código no se usa dos veces.',
  'bar.out-of-range': 'Más de lo que hay.',
  'bar.out-of-range.too-much': 'Se piden {asked_mm} de {lot}; solo quedan {left_mm}.',
  'bar.out-of-range.interval': '{lot} mide {length_mm}; de {from_mm} a {to_mm} no está en ella.',
  'bar.out-of-range.place': '{lot} mide {length_mm}; {at_mm} no es un lugar de ella.',
  'bar.out-of-range.sample': '{lot} mide {length_mm}; no puede salir de ella una muestra de {sample_mm}.',
  'bar.out-of-range.left-on-line':
    'No pueden quedar {left_mm} en la línea {line}: la partida que está en ella tenía {had_mm}.',
  'bar.out-of-range.no-length': '{mass_g} a {diameter_um} no dan una longitud posible.',
  'bar.would-loop': 'No puede estar hecha de sí misma.',
  'bar.would-loop.made-here': '{lot} se hace en esta pasada; no puede entrar en ella.',
  'bar.not-complete': 'Falta algo para eso.',
  'bar.not-complete.nothing-made': 'No se retiró nada en la pasada {run}; anúlela si no llegó a correr.',
  'bar.not-complete.line-empty': 'No se cargó nada en la línea {line} de la pasada {run}.',
  'bar.not-open': 'Ya no está abierto.',
  'bar.not-open.closed':
    'La pasada {run} se cerró; un error en ella se corrige con un asiento de corrección o anulación.',
  'bar.not-open.whole': 'La pasada {run} se registró entera.',
  'bar.not-open.void': 'El asiento {seq} ya está anulado.',
  'bar.bad-order': 'No en este orden.',
  'bar.bad-order.join': 'La unión se vio a {seen_mm}, no después de la anterior, a {before_mm}.',
  'bar.bad-order.beyond-end': 'La unión se vio a {seen_mm}, pero la pasada solo mide {made_mm}.',
  'bar.bad-value': 'Esto no puede ser.',
  'bar.bad-value.no-line': 'La pasada {run} no tiene línea {line}.',
  'bar.bad-value.first-on-line': 'Es la primera partida de su línea; no hay unión antes de ella.',
  'bar.unknown-lot': 'No hay tal partida.', 'bar.unknown-lot.says': 'No hay ninguna partida {code} en el libro.',
  'bar.unknown-heat': 'No hay tal colada.', 'bar.unknown-heat.says': 'No hay ninguna colada {code} en el libro.',
  'bar.unknown-supply': 'No hay tal suministro.',
  'bar.unknown-supply.says': 'No hay ningún suministro {code} en el libro.',
  'bar.unknown-batch': 'No hay tal lote de proceso.',
  'bar.unknown-batch.says': 'No hay ningún lote de proceso {code} en el libro.',
  'bar.unknown-run': 'No hay tal pasada.', 'bar.unknown-run.says': 'No hay ninguna pasada {code} en el libro.',
  'bar.unknown-weld': 'No hay tal soldadura.',
  'bar.unknown-weld.says': 'No hay ninguna soldadura {code} en el libro.',
  'bar.unknown-test': 'No hay tal ensayo.', 'bar.unknown-test.says': 'No hay ningún ensayo {code} en el libro.',
  'bar.unknown-hold': 'No hay tal retención.',
  'bar.unknown-hold.says': 'No hay ninguna retención {code} en el libro.',
  'bar.unknown-certificate': 'No hay tal certificado.',
  'bar.unknown-certificate.says': 'No hay ningún certificado {code} en el libro.',
  'bar.unknown-consignment': 'No hay tal envío.',
  'bar.unknown-consignment.says': 'No hay ningún envío {code} en el libro.',
  'bar.unknown-order': 'No hay tal pedido.', 'bar.unknown-order.says': 'No hay ningún pedido {code} en el libro.',
  'bar.unknown-entry': 'No hay tal asiento.',
  'bar.key-reused': 'Esta clave se usó para otro asiento.',
  'bar.not-json': 'El servidor no pudo leer lo enviado.', 'bar.not-entry': 'Esto no es un asiento.',
  'bar.bad-request': 'La petición no se entiende.', 'bar.no-session': 'Identifíquese primero.',
  'bar.not-allowed': 'Su función no lo permite.', 'bar.not-found': 'Aquí no hay tal cosa.',
  'bar.bad-method': 'Eso no se puede hacer aquí.', 'bar.too-large': 'Es demasiado de una vez.',
  'bar.wrong-media': 'Aquí no se admite esa clase de contenido.', 'bar.missing': 'Falta algo.',
  'bar.unknown-member': 'No hay tal campo.', 'bar.bad-type': 'Aquí va otro tipo de valor.',
  'bar.bad-code': 'Esto no puede ser un código.', 'bar.bad-time': 'Esto no puede ser una hora.',
  'bar.too-many': 'Demasiadas a la vez. Espere un momento.', 'bar.internal': 'Algo falló en el servidor.',
  'bar.busy': 'El servidor está ocupado. Pruebe otra vez en un momento.',
  'bar.disk-full': 'No queda sitio en el disco del servidor.',
  'bar.password-again': 'Dé su contraseña otra vez.',
  'bar.locked': 'Bloqueado tras demasiados intentos fallidos. Espere un rato.',
  'bar.not-known': 'No es correcto: revise el nombre y lo que va con él.',
  'bar.last-administrator': 'Alguien tiene que ser administrador: este es el último.',
  'bar.not-mine': 'No la hizo quien entró.',
  'bar.not-mine.says': 'Se hizo cuando no se podía comprobar a nadie, y quien entró después dice que no es suya.',
};
