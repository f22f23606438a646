// The words of the page on putting kinwire into service, in Spanish.

export default {
  'page.service': 'Servicio',
  'service.title': 'Poner kinwire en servicio',
  'service.what': 'Cómo está este servidor y qué hace falta para tener uno en una fábrica. La página de manual, kinwire(1), da todas las opciones.',
  'service.standing': 'Cómo está ahora',
  'service.steps': 'Pasos',

  /* --- how it stands --- */
  'standing.about': 'Qué',
  'standing.state': 'Estado',
  'standing.now': 'Ahora',
  'state.good': 'En orden',
  'state.look': 'Revisar',
  'state.act': 'Actuar ya',
  'standing.writer': 'El disco confirma lo que se registra',
  'standing.writer.is': 'Sí.',
  'standing.writer.failed': 'No: hay que volver a arrancar kinwire, en un disco que funcione.',
  'standing.room': 'Espacio libre',
  'standing.room.is': '{free} GiB libres; por debajo de {floor} GiB no se registra nada.',
  'standing.room.full': 'Solo {free} GiB libres, menos de {floor}: no se registra nada hasta que haya sitio.',
  'standing.commit': 'Tiempo de registro',
  'standing.commit.is': '{mean} ms de media, {most} ms en el peor caso desde el arranque.',
  'standing.commit.none': 'No se ha registrado nada desde el arranque.',
  'standing.queue': 'Esperan su registro',
  'standing.queue.is': '{now} ahora, {most} como máximo; caben 1024.',
  'standing.log': 'Diario de escritura',
  'standing.log.is': '{size} MiB; por encima de 64, alguien lee durante mucho tiempo.',
  'standing.age': 'Último asiento',
  'standing.age.is': 'Hace {hours} horas.',
  'standing.age.minutes': 'Hace {minutes} min.',
  'standing.age.none': 'Todavía no hay ninguno.',
  'standing.private': 'Nadie lee lo que se envía',
  'standing.private.is': 'Esta página llegó por TLS.',
  'standing.private.here': 'Esta página llegó de la misma máquina.',
  'standing.private.clear': 'Quien esté en la red puede leer y alterar lo que se envía.',
  'standing.certificate': 'Certificado',
  'standing.certificate.is': 'Válido {days} días más.',
  'standing.who': 'Identificación',
  'standing.who.is': 'Se sabe quién pregunta.',
  'standing.who.open': 'Modo abierto: cualquiera en esta máquina puede hacerlo todo. No sirve para el registro de una fábrica.',
  'standing.tries': 'Intentos de entrar',
  'standing.tries.is': '{refused} rechazados, {locked} bloqueados desde el arranque.',
  'standing.limited': 'Demasiadas peticiones',
  'standing.limited.is': '{n} peticiones aplazadas desde el arranque.',

  /* --- the steps --- */
  'step.code': 'Órdenes y archivos: {step}',
  'step.install': 'Instalar',
  'step.install.what':
    'Una máquina propia, con un disco que guarde lo que confirma: sin sistema de archivos en red ni caché de escritura sin batería. Se instalan el programa, sus unidades de systemd y el usuario con el que corre. El registro queda en /var/lib/kinwire.',
  'step.network': 'Que la fábrica llegue a él',
  'step.network.what':
    'Por sí solo, kinwire responde únicamente en su propia máquina. Con un certificado para el nombre por el que preguntan los terminales, responde a la red de la fábrica por TLS 1.2 y 1.3. La clave es de root y la puede leer el grupo kinwire, nadie más.\nDiga en la unidad qué redes pueden llegar a él. Cuando se renueve el certificado, recargue: las conexiones siguen.\nSin certificado existe --insecure-lan, que cada página muestra: quien esté en la red puede entonces leer contraseñas y alterar lo que se envía.',
  'step.proxy': 'O detrás de un proxy',
  'step.proxy.what':
    'Donde un proxy ya se ocupa de TLS, kinwire se queda en 127.0.0.1 y se le dice por qué nombre lo llaman. El proxy tiene que pasar la cabecera Host tal como llegó. Lo que diga de quien llama (X-Forwarded-For y similares) no se cree; limite en el proxy las conexiones y los intentos de cada dirección.',
  'step.first': 'El primer administrador',
  'step.first.what':
    'Se crea en la propia máquina y solo mientras no haya nadie. La orden imprime un código que vale una vez, durante 24 horas: con él se pone la primera contraseña en la página de entrada. No hay cuentas de fábrica ni contraseñas por defecto.\nEsa persona añade a las demás. Dé el papel a dos personas, para que una pueda volver a abrir a la otra.',
  'step.terminals': 'Terminales de planta',
  'step.terminals.what':
    'Un administrador añade el terminal y recibe un código; tecleado en el terminal, convierte ese aparato en el terminal, y solo allí se aceptan tarjeta y PIN. Un terminal perdido o sustituido se cierra.\nCuando falta la red, el terminal guarda lo que se anota y lo envía después.',
  'step.backup': 'Copias',
  'step.backup.what':
    'Cada hora se hace una copia con kinwire en marcha, se comprueba y recibe un manifiesto que dice qué cabeza tiene. Ponga /var/backups/kinwire en otro disco y lleve las copias a otro lugar. Nunca copie solo el archivo del registro con kinwire en marcha: una parte puede estar aún en el diario de al lado.\nLas contraseñas y los PIN no están en el registro. El archivo con el que se protegen los PIN se copia una vez, a mano, y se guarda aparte de las copias.',
  'step.drill': 'Ensayar la vuelta',
  'step.drill.what':
    'Una copia que nunca se restauró es una esperanza. Cada trimestre, restaure la más reciente en otro sitio, verifíquela con una cabeza guardada fuera y busque algo en ella. Anote cuánto tardó. Lo registrado después de la copia lo vuelve a enviar quien no recibió respuesta, con las mismas claves: nada se registra dos veces.',
  'step.follower': 'Un segundo registro',
  'step.follower.what':
    'Un seguidor en otra máquina toma cada asiento segundos después de registrarse, comprueba con pruebas que el primero solo creció y guarda sus cabezas. Con él se sigue si se pierde la primera máquina, y es testigo contra una reescritura. Que lo tenga alguien ajeno a la oficina que lleva el primero.',
  'step.retention': 'Cuánto tiempo',
  'step.retention.what':
    'Los asientos no se borran nunca: cuánto tiempo tiene que poder mostrar una fábrica de qué se hizo un cable lo fijan sus contratos y la ley del lugar, a menudo diez años o más. Las copias pueden irse al cabo de un tiempo, pues cada una tiene todo lo que tenía la anterior; guarde una de cada mes. Los nombres de las personas están en el registro mientras se guarde: dígaselo.',
  'step.upgrade': 'Un kinwire más nuevo',
  'step.upgrade.what':
    'Un registro de un kinwire anterior se pone al día en el primer arranque; sus asientos y cabezas siguen siendo los que eran. Un kinwire anterior rechaza un registro más nuevo: haga antes una copia. Verifique después: la raíz de cada tamaño tiene que ser la que se guardó.',
  'step.alarms': 'Alarmas',
  'step.alarms.what':
    'Las cifras están en /metrics, para un testigo que solo pueda leerlas; si vive, en /healthz. Pregunte desde otra máquina: una caída no avisa a nadie. Merecen una alarma estas, escritas como condiciones para Prometheus.\nEl diario tiene una línea por suceso: journalctl -u kinwire -p warning muestra lo que alguien debería mirar.',
};
