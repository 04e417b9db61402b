// Runs the SQL files given with DuckDB, in the working directory, and prints
// the rows of each as JSON, a list a file.
// Usage: node sql.js FILE..., with @duckdb/node-api on NODE_PATH.
const fs = require('fs');
const { DuckDBInstance } = require('@duckdb/node-api');

async function main(files) {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  const out = [];
  for (const file of files) {
    out.push((await connection.runAndReadAll(fs.readFileSync(file, 'utf8'))).getRowObjectsJson());
  }
  console.log(JSON.stringify(out));
}

main(process.argv.slice(2)).catch((err) => { console.error(err); process.exit(1); });
