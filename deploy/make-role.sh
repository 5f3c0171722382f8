#!/bin/sh
# Run once by PostgreSQL's image, when its volume is still empty: the program's role owns its database
# and nothing else. The image's own role, postgres, is a superuser, and the program never has its password.
psql -v ON_ERROR_STOP=1 -v password="$DATABASE_PASSWORD" --username postgres --dbname postgres <<'SQL'
CREATE ROLE filar LOGIN PASSWORD :'password';
CREATE DATABASE filar OWNER filar;
SQL
