// What every page says of how it is served, in Spanish.

export default {
  'in-the-clear': 'Sin cifrar:',
  'in-the-clear.what': 'quien esté en esta red puede leer y alterar lo que se envía.',
  reading: 'Solo lectura:',
  'reading.what': 'en el disco del servidor no quedaba sitio para anotar que entró. Sigue solo cuando haya sitio.',
};
