// What this device keeps: one IndexedDB, so that a sign-off and its photos are written together or not at all.
//
//   queue   entries on their way, in the order in which they were signed; one that was refused stays here too
//   photos  JPEGs by the hex SHA-256 of their bytes, until every entry that names them has gone out
//   kept    the last answers of the server by their address, and who chose which station: to work without a network
//   sent    the last entries that arrived, to be able to say what became of them
//
// No PIN and nothing else that opens anything is ever put here: the sign-in is a cookie that scripts can not read.

const stores = { queue: { keyPath: "n", autoIncrement: true }, photos: {}, kept: {}, sent: { keyPath: "n", autoIncrement: true } };
let opening;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("grainward", 1);
    asked.onupgradeneeded = () => {
      for (const [name, how] of Object.entries(stores)) {
        const store = asked.result.createObjectStore(name, how);
        if (name === "queue") store.createIndex("id", "id", { unique: true });
      }
    };
    asked.onsuccess = () => {
      const again = () => (opening = undefined);
      asked.result.onclose = again;
      asked.result.onversionchange = () => (asked.result.close(), again());
      resolve(asked.result);
    };
    asked.onerror = () => ((opening = undefined), reject(asked.error));
  });
  return opening;
}

// within runs work(transaction) and gives the result of the request it returns, once everything is on disk ("strict": a phone
// whose battery falls out a moment later still has it).
export async function within(names, mode, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const tx = db.transaction(names, mode, { durability: "strict" });
    const asked = work(tx);
    tx.oncomplete = () => resolve(asked?.result);
    tx.onabort = () => reject(tx.error ?? new Error("the device did not keep it"));
    tx.onerror = () => {};
  });
}

export const kept = (name) => within(["kept"], "readonly", (tx) => tx.objectStore("kept").get(name));
export const keep = (name, value) => within(["kept"], "readwrite", (tx) => tx.objectStore("kept").put(value, name));
