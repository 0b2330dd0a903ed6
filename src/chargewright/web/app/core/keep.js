// A small drawer of named values in the phone's own storage: IndexedDB, or localStorage without it.
const NAME = "chargewright";
const STORE = "kept";
let opening;

function database() {
  opening ??= new Promise((resolve) => {
    try {
      const asked = indexedDB.open(NAME, 1);
      asked.onupgradeneeded = () => asked.result.createObjectStore(STORE);
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => resolve(null);
    } catch {
      resolve(null); // private windows of some browsers
    }
  });
  return opening;
}

function settled(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

export async function keep(name, value) {
  const base = await database();
  if (!base) {
    localStorage.setItem(`cw.${name}`, JSON.stringify(value));
    return;
  }
  const turn = base.transaction(STORE, "readwrite");
  turn.objectStore(STORE).put(value, name);
  // complete, not success: only then is it on the disk
  await new Promise((resolve, reject) => {
    turn.oncomplete = resolve;
    turn.onerror = turn.onabort = () => reject(turn.error);
  });
}

export async function kept(name, otherwise = null) {
  const base = await database();
  if (!base) return JSON.parse(localStorage.getItem(`cw.${name}`) ?? "null") ?? otherwise;
  return (await settled(base.transaction(STORE).objectStore(STORE).get(name))) ?? otherwise;
}
