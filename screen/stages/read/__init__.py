"""Reading: files to cells, cells to tables, tables to records, records to one result per measurement."""
