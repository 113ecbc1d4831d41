// Promises over IndexedDB.
