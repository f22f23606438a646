// Las palabras de las páginas de auditoría en español, junto a las de es.js.

export default {
  /* --- la entrada --- */
  'audit.title': 'Auditoría',
  'audit.what': 'Dónde es débil el registro, adónde fue el metal, y qué se puede sacar y comprobar en otra parte.',
  'tile.entries': 'Los asientos',
  'tile.entries.what': 'Cada asiento como se registró, su prueba, y el libro verificado',

  /* --- sacar --- */
  'take.title': 'Sacarlo de la fábrica',
  'take.what': 'Lo que se guarda aquí lo puede leer y comprobar quien no tiene acceso a este servidor.',
  'take.scope': '¿De qué?',
  'scope.origin': 'Una cosa',
  'scope.origin.what': 'un carrete, una colada, un certificado, con todo lo suyo',
  'scope.month': 'Un mes',
  'scope.month.what': 'lo que pasó en él, con aquello en que se apoya',
  'scope.all': 'Todo',
  'scope.all.what': 'el libro entero; puede ser largo',
  'take.type': 'Tipo',
  'take.code': 'Código',
  'take.code.missing': 'Indique el código de lo que se saca.',
  'take.direction': '¿Hacia dónde?',
  'take.direction.usual': 'como es usual',
  'take.direction.back': 'de qué está hecho',
  'take.direction.forward': 'qué se hizo con ello',
  'take.direction.kin': 'todo lo que comparte sus coladas',
  'take.month': 'Mes, como 2026-03',
  'take.month.missing': 'Indique un mes con año y mes, como {now}.',
  'take.form': '¿Como qué?',
  'as.report': 'Informe (PDF)',
  'as.report.what': 'la genealogía para leer e imprimir: cinta, árbol, pasadas, ensayos, retenciones, uniones, la cabeza',
  'as.pack': 'Paquete de pruebas (zip)',
  'as.pack.what': 'informe, asientos, pruebas, cabeza, sumas, y un programa que las comprueba',
  'as.entries': 'Asientos (NDJSON)',
  'as.entries.what': 'como se les aplica el hash, uno por línea; kinwire load los lee en otro libro',
  'as.csv': 'Tabla (CSV)',
  'as.csv.what': 'las partidas con sus lugares, para una hoja de cálculo',
  'as.epcis': 'EPCIS 2.0 (JSON-LD)',
  'as.epcis.what': 'sucesos en la norma abierta de las cadenas de suministro, para el sistema de un cliente',
  'as.prov': 'W3C PROV (JSON)',
  'as.prov.what': 'qué se hizo de qué y por quién, en la norma abierta de la procedencia',
  'take.go': 'Guardar',

  /* --- testigo --- */
  'witness.title': 'Testigo',
  'witness.what':
    'La cabeza es una cifra que vale por todos los asientos hasta ahora. Guárdela donde la fábrica no llegue: imprímala, envíela, désela al auditor. Así nadie puede cambiar lo registrado antes sin que se descubra, aquí o con el programa.',
  'witness.size': 'Asientos',
  'witness.save': 'Guardar la cabeza de hoy',
  'witness.check': 'Comprobar una cabeza guardada',
  'witness.kept': 'La nota de cabeza',
  'witness.kept.hint': 'Péguela, o escriba sus dos líneas: «size» con el número, «root» con las 64 cifras.',
  'witness.file': 'o el archivo en que se guardó',
  'witness.go': 'Comprobar',
  'witness.unable':
    'El navegador calcula hashes solo por https o en la máquina del servidor. Use allí kinwire witness.',
  'witness.no-note': 'Esto no es una nota de cabeza: hacen falta una línea «size» con un número y una «root» con 64 cifras.',
  'witness.grew':
    'Bien: el libro de {now} asientos contiene sin cambios los {then} asientos de esa cabeza. Su navegador ha comprobado la prueba. (Una firma en la nota la comprueba kinwire witness.)',
  'witness.broken':
    'Mal: el libro de hoy no crece de esa cabeza. Se cambió algo de lo registrado antes, o la nota no es de este libro. Guarde la nota y esta página; que lo mire alguien que no lleve el servidor.',
  'witness.shorter':
    'Mal: el libro tiene {now} asientos, y la cabeza era de {then}. Faltan asientos, o la nota no es de este libro.',

  /* --- comprobar --- */
  'check.title': 'Comprobar un paquete sin la fábrica',
  'check.what':
    'Un paquete de pruebas lleva una página que dice cómo, y un programa en Python que no comparte código con kinwire. Todo byte cambiado se encuentra y se nombra.',
  'check.how': 'unzip pack.zip -d pack && cd pack\nsha256sum -c MANIFEST.sha256\npython3 check.py\n\nkinwire verify pack.zip',
};
