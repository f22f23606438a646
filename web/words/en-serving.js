// What every page says of how it is served, in English.

export default {
  'in-the-clear': 'Not private:',
  'in-the-clear.what': 'whoever is on this network can read and change what is sent.',
  reading: 'To read only:',
  'reading.what': 'the server’s disk had no room to record that you signed in. It goes on by itself when there is room.',
};
