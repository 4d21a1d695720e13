// The least workbook that a spreadsheet program would still open: one sheet, texts and numbers.

import { crc32 } from 'node:zlib';

const escaped = (text) => text.replace(/&/g, '&amp;').replace(/</g, '&lt;').replace(/>/g, '&gt;').replace(/"/g, '&quot;');

const column = (index) => (index < 26 ? '' : String.fromCharCode(64 + Math.floor(index / 26))) + String.fromCharCode(65 + (index % 26));

function cell(value, row, index) {
  const at = `${column(index)}${row}`;
  if (value === '') return '';
  return value.trim() !== '' && Number.isFinite(Number(value))
    ? `<c r="${at}"><v>${value}</v></c>`
    : `<c r="${at}" t="inlineStr"><is><t>${escaped(value)}</t></is></c>`;
}

/** Bytes of a workbook from a sheet's name and its rows of texts. */
export function workbook(sheet, rows) {
  const head = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>';
  const package_ = 'http://schemas.openxmlformats.org/package/2006';
  const office = 'http://schemas.openxmlformats.org/officeDocument/2006/relationships';
  const main = 'http://schemas.openxmlformats.org/spreadsheetml/2006/main';
  const spreadsheet = 'application/vnd.openxmlformats-officedocument.spreadsheetml';
  const body = rows.map((row, y) => `<row r="${y + 1}">${row.map((value, x) => cell(value, y + 1, x)).join('')}</row>`).join('');
  return zip({
    '[Content_Types].xml': `${head}<Types xmlns="${package_}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="${spreadsheet}.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="${spreadsheet}.worksheet+xml"/></Types>`,
    '_rels/.rels': `${head}<Relationships xmlns="${package_}/relationships"><Relationship Id="r1" Type="${office}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    'xl/workbook.xml': `${head}<workbook xmlns="${main}" xmlns:r="${office}"><sheets><sheet name="${escaped(sheet)}" sheetId="1" r:id="r1"/></sheets></workbook>`,
    'xl/_rels/workbook.xml.rels': `${head}<Relationships xmlns="${package_}/relationships"><Relationship Id="r1" Type="${office}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
    'xl/worksheets/sheet1.xml': `${head}<worksheet xmlns="${main}"><sheetData>${body}</sheetData></worksheet>`,
  });
}

/** Files stored in a ZIP archive without compression (APPNOTE 6.3, sections 4.3.7, 4.3.12 and 4.3.16). */
function zip(files) {
  const [bodies, directory] = [[], []];
  let at = 0;
  for (const [name, text] of Object.entries(files)) {
    const [path, bytes] = [Buffer.from(name), Buffer.from(text)];
    // Version 2.0, no flags, stored, 1 January 1980.
    const common = Buffer.alloc(26);
    common.writeUInt16LE(20, 0);
    common.writeUInt16LE(0x21, 8);
    common.writeUInt32LE(crc32(bytes), 10);
    common.writeUInt32LE(bytes.length, 14);
    common.writeUInt32LE(bytes.length, 18);
    common.writeUInt16LE(path.length, 22);
    const entry = Buffer.alloc(14);
    entry.writeUInt32LE(at, 10);
    bodies.push(Buffer.from('PK\x03\x04'), common, path, bytes);
    directory.push(Buffer.from('PK\x01\x02'), Buffer.from([20, 0]), common, entry, path);
    at += 30 + path.length + bytes.length;
  }
  const listed = Buffer.concat(directory);
  const end = Buffer.alloc(22);
  end.write('PK\x05\x06');
  end.writeUInt16LE(Object.keys(files).length, 8);
  end.writeUInt16LE(Object.keys(files).length, 10);
  end.writeUInt32LE(listed.length, 12);
  end.writeUInt32LE(at, 16);
  return Buffer.concat([...bodies, listed, end]);
}
