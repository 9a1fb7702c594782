// What not every page brings along: columns through which bands migrate (`migration.js`), bent tubes (`bent.js`).

/** @typedef {import("./resolve.js").Passage} Passage */

/** Empty where it is not brought along. @type {Record<string, any>} */
export const manner = {};

/** @param {Passage} passage whether bands migrate through it */
export const migrates = ({ part }) => Boolean(part.migration) && !part.behind;

/** @param {Passage[]} passages */
export const hasMigration = (passages) => passages.some(migrates);
