--
-- PostgreSQL database dump
--


-- Dumped from database version 15.18 (Debian 15.18-0+deb12u1)
-- Dumped by pg_dump version 15.18 (Debian 15.18-0+deb12u1)

SET statement_timeout = 0;
SET lock_timeout = 0;
SET idle_in_transaction_session_timeout = 0;
SET client_encoding = 'UTF8';
SET standard_conforming_strings = on;
SELECT pg_catalog.set_config('search_path', '', false);
SET check_function_bodies = false;
SET xmloption = content;
SET client_min_messages = warning;
SET row_security = off;

SET default_tablespace = '';

SET default_table_access_method = heap;

--
-- Name: bases; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.bases (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    base_id text,
    name text,
    version_of text,
    lot text,
    made_from text,
    energy_kcal_per_100g double precision,
    fat_g_per_100g double precision,
    protein_g_per_100g double precision,
    carbohydrate_g_per_100g double precision,
    sugars_g_per_100g double precision,
    polyols_g_per_100g double precision,
    fibre_g_per_100g double precision,
    acids_g_per_100g double precision,
    sodium_mg_per_100g double precision,
    caffeine_mg_per_100g double precision,
    ethanol_g_per_100g double precision,
    sweeteners text,
    density_g_per_ml double precision,
    serving_g double precision,
    cost_per_kg double precision,
    ph double precision,
    viscosity_mpa_s double precision,
    allergens text,
    tags text,
    source text
);


--
-- Name: bases_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.bases_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: bases_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.bases_row_id_seq OWNED BY public.bases.row_id;


--
-- Name: blobs; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.blobs (
    key text NOT NULL,
    saved_at text NOT NULL,
    content bytea NOT NULL
);


--
-- Name: calibrations; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.calibrations (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    flavouring_id text,
    drops double precision,
    grams double precision,
    lot text,
    at text
);


--
-- Name: calibrations_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.calibrations_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: calibrations_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.calibrations_row_id_seq OWNED BY public.calibrations.row_id;


--
-- Name: comparisons; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.comparisons (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    check_id text,
    serving double precision,
    question text,
    "left" text,
    "right" text,
    answer text,
    taster text,
    served_at text
);


--
-- Name: comparisons_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.comparisons_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: comparisons_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.comparisons_row_id_seq OWNED BY public.comparisons.row_id;


--
-- Name: drafts; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.drafts (
    draft_id text NOT NULL,
    version integer NOT NULL,
    saved_at text NOT NULL,
    content text NOT NULL
);


--
-- Name: flavourings; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.flavourings (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    flavouring_id text,
    name text,
    label_dose text,
    label_dose_g_per_kg double precision,
    version_of text,
    family text,
    form text,
    carrier text,
    solubility text,
    food_use text,
    sweetened text,
    density_g_per_ml double precision,
    drop_mg double precision,
    max_dose_g_per_kg double precision,
    fat_loving double precision,
    energy_kcal_per_g double precision,
    fat_g_per_g double precision,
    protein_g_per_g double precision,
    carbohydrate_g_per_g double precision,
    sugars_g_per_g double precision,
    polyols_g_per_g double precision,
    fibre_g_per_g double precision,
    acids_g_per_g double precision,
    sodium_mg_per_g double precision,
    caffeine_mg_per_g double precision,
    ethanol_g_per_g double precision,
    sweeteners text,
    cost_per_g double precision,
    stock_g double precision,
    allergens text,
    tags text,
    source text,
    role text,
    wheel text
);


--
-- Name: flavourings_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.flavourings_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: flavourings_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.flavourings_row_id_seq OWNED BY public.flavourings.row_id;


--
-- Name: lots; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.lots (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    item_id text,
    lot text,
    size text,
    tare_g double precision,
    price double precision,
    bought_at text,
    opened_at text,
    best_before text,
    emptied_at text,
    note text
);


--
-- Name: lots_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.lots_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: lots_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.lots_row_id_seq OWNED BY public.lots.row_id;


--
-- Name: meta; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.meta (
    name text NOT NULL,
    value integer NOT NULL
);


--
-- Name: photos; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.photos (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    photo_id text,
    item_id text,
    at text,
    bytes text
);


--
-- Name: photos_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.photos_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: photos_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.photos_row_id_seq OWNED BY public.photos.row_id;


--
-- Name: readings; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.readings (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    trial_id text,
    base_id text,
    flavouring_id text,
    dose_g_per_kg double precision,
    amount text,
    base_g double precision,
    base_ml double precision,
    reading double precision,
    taster text,
    tasted_at text,
    session text,
    "position" double precision,
    blind text,
    strength double precision,
    liking double precision,
    likeness double precision,
    target_id text,
    attributes text,
    off_notes text,
    reminds_of text,
    temperature_c double precision,
    minutes_since_addition double precision,
    mixing text,
    stepped text,
    ended text,
    note text,
    chosen_by text,
    lot text,
    glass text
);


--
-- Name: readings_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.readings_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: readings_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.readings_row_id_seq OWNED BY public.readings.row_id;


--
-- Name: recipes; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.recipes (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    recipe_id text,
    version double precision,
    base_id text,
    doses text,
    name text,
    status text,
    parent text,
    note text,
    at text
);


--
-- Name: recipes_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.recipes_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: recipes_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.recipes_row_id_seq OWNED BY public.recipes.row_id;


--
-- Name: revisions; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.revisions (
    batch integer NOT NULL,
    at text NOT NULL,
    author text NOT NULL,
    action text NOT NULL,
    about text,
    write_id text,
    digest text,
    undoes integer,
    revision integer,
    active integer DEFAULT 1 NOT NULL
);


--
-- Name: settings; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.settings (
    name text NOT NULL,
    value text NOT NULL
);


--
-- Name: steps; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.steps (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    trial_id text,
    step double precision,
    kind text,
    at text,
    item_id text,
    lot text,
    amount_g double precision,
    as_entered text,
    taster text,
    parent_trial_id text
);


--
-- Name: steps_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.steps_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: steps_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.steps_row_id_seq OWNED BY public.steps.row_id;


--
-- Name: targets; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.targets (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    target_id text,
    name text,
    description text,
    reference_trial_id text
);


--
-- Name: targets_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.targets_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: targets_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.targets_row_id_seq OWNED BY public.targets.row_id;


--
-- Name: tasters; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.tasters (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    taster text,
    avoid_allergens text,
    avoid text,
    body_mass_kg double precision,
    age_years double precision,
    asks_professional text
);


--
-- Name: tasters_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.tasters_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: tasters_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.tasters_row_id_seq OWNED BY public.tasters.row_id;


--
-- Name: weighings; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.weighings (
    row_id integer NOT NULL,
    row_key text NOT NULL,
    place integer NOT NULL,
    batch integer NOT NULL,
    gone integer NOT NULL,
    item_id text,
    lot text,
    at text,
    gross_g double precision
);


--
-- Name: weighings_row_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.weighings_row_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: weighings_row_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.weighings_row_id_seq OWNED BY public.weighings.row_id;


--
-- Name: bases row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.bases ALTER COLUMN row_id SET DEFAULT nextval('public.bases_row_id_seq'::regclass);


--
-- Name: calibrations row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.calibrations ALTER COLUMN row_id SET DEFAULT nextval('public.calibrations_row_id_seq'::regclass);


--
-- Name: comparisons row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.comparisons ALTER COLUMN row_id SET DEFAULT nextval('public.comparisons_row_id_seq'::regclass);


--
-- Name: flavourings row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.flavourings ALTER COLUMN row_id SET DEFAULT nextval('public.flavourings_row_id_seq'::regclass);


--
-- Name: lots row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lots ALTER COLUMN row_id SET DEFAULT nextval('public.lots_row_id_seq'::regclass);


--
-- Name: photos row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.photos ALTER COLUMN row_id SET DEFAULT nextval('public.photos_row_id_seq'::regclass);


--
-- Name: readings row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.readings ALTER COLUMN row_id SET DEFAULT nextval('public.readings_row_id_seq'::regclass);


--
-- Name: recipes row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.recipes ALTER COLUMN row_id SET DEFAULT nextval('public.recipes_row_id_seq'::regclass);


--
-- Name: steps row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.steps ALTER COLUMN row_id SET DEFAULT nextval('public.steps_row_id_seq'::regclass);


--
-- Name: targets row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.targets ALTER COLUMN row_id SET DEFAULT nextval('public.targets_row_id_seq'::regclass);


--
-- Name: tasters row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.tasters ALTER COLUMN row_id SET DEFAULT nextval('public.tasters_row_id_seq'::regclass);


--
-- Name: weighings row_id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.weighings ALTER COLUMN row_id SET DEFAULT nextval('public.weighings_row_id_seq'::regclass);


--
-- Data for Name: bases; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.bases (row_id, row_key, place, batch, gone, base_id, name, version_of, lot, made_from, energy_kcal_per_100g, fat_g_per_100g, protein_g_per_100g, carbohydrate_g_per_100g, sugars_g_per_100g, polyols_g_per_100g, fibre_g_per_100g, acids_g_per_100g, sodium_mg_per_100g, caffeine_mg_per_100g, ethanol_g_per_100g, sweeteners, density_g_per_ml, serving_g, cost_per_kg, ph, viscosity_mpa_s, allergens, tags, source) FROM stdin;
1	oat	0	1	0	oat	Oat drink	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	1.0309278350515465	\N	\N	\N	\N	oat	\N	\N
2	soy	1	1	0	soy	Soy drink	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	soy	\N	\N
3	0168	2	1	0	0168	Crème	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N
4	oat	0	6	0	oat	Oat drink	\N	\N	\N	\N	1.5	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	1.0309278350515465	\N	\N	\N	\N	oat	\N	\N
\.


--
-- Data for Name: blobs; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.blobs (key, saved_at, content) FROM stdin;
learned/4/x	2026-03-01T20:20:00.000000+00:00	\\x00ff01
\.


--
-- Data for Name: calibrations; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.calibrations (row_id, row_key, place, batch, gone, flavouring_id, drops, grams, lot, at) FROM stdin;
1	quince00422026-03-01T19:03:00+00:00200.69999999999999996	0	7	0	quince	20	0.7	0042	2026-03-01T19:03:00+00:00
\.


--
-- Data for Name: comparisons; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.comparisons (row_id, row_key, place, batch, gone, check_id, serving, question, "left", "right", answer, taster, served_at) FROM stdin;
1	c1	0	8	0	c	1	prefer	oat|quince=1.2	oat	left	ana	\N
2	c2	1	8	0	c	2	prefer	oat	oat|quince=1.2	right	ana	\N
\.


--
-- Data for Name: drafts; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.drafts (draft_id, version, saved_at, content) FROM stdin;
cup-1	1	2026-03-01T20:13:00.000000+00:00	{"base_id": "oat", "steps": [1, 2]}
\.


--
-- Data for Name: flavourings; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.flavourings (row_id, row_key, place, batch, gone, flavouring_id, name, label_dose, label_dose_g_per_kg, version_of, family, form, carrier, solubility, food_use, sweetened, density_g_per_ml, drop_mg, max_dose_g_per_kg, fat_loving, energy_kcal_per_g, fat_g_per_g, protein_g_per_g, carbohydrate_g_per_g, sugars_g_per_g, polyols_g_per_g, fibre_g_per_g, acids_g_per_g, sodium_mg_per_g, caffeine_mg_per_g, ethanol_g_per_g, sweeteners, cost_per_g, stock_g, allergens, tags, source, role, wheel) FROM stdin;
1	quince	0	1	0	quince	Quince drops	3 drops per 100 ml	\N	\N	\N	\N	\N	\N	yes	\N	\N	30	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N
2	clove	1	1	0	clove	Clove extract	1 g/kg	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N
3	plum	2	1	0	plum	Plum	\N	2.5	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N
\.


--
-- Data for Name: lots; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.lots (row_id, row_key, place, batch, gone, item_id, lot, size, tare_g, price, bought_at, opened_at, best_before, emptied_at, note) FROM stdin;
1	quinceA	0	15	0	quince	A	30 ml	21.5	12	2026-02-01	2026-02-02	2027-02-01	\N	\N
2	quinceB é;	1	15	0	quince	B é;	30 ml	\N	12.5	2026-02-20	\N	\N	\N	another, darker
3	oat1	2	15	0	oat	1	1 kg	\N	2.4	\N	2026-02-27	2026-04-01	\N	\N
\.


--
-- Data for Name: meta; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.meta (name, value) FROM stdin;
schema_version	2
\.


--
-- Data for Name: photos; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.photos (row_id, row_key, place, batch, gone, photo_id, item_id, at, bytes) FROM stdin;
1	p1	0	15	0	p1	quince	2026-02-02	iVBORw0KGgo=
\.


--
-- Data for Name: readings; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.readings (row_id, row_key, place, batch, gone, trial_id, base_id, flavouring_id, dose_g_per_kg, amount, base_g, base_ml, reading, taster, tasted_at, session, "position", blind, strength, liking, likeness, target_id, attributes, off_notes, reminds_of, temperature_c, minutes_since_addition, mixing, stepped, ended, note, chosen_by, lot, glass) FROM stdin;
1	aana1quince	0	2	0	a	oat	quince	1	\N	\N	\N	1	ana	\N	s1	\N	\N	3	7	\N	\N	\N	bitter:1@aftertaste	\N	\N	\N	\N	\N	\N	=1+1	\N	\N	\N
2	aana1clove	1	2	0	a	oat	clove	0.2	\N	\N	\N	1	ana	\N	s1	\N	\N	2	7	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	@home	\N	\N	\N
3	bben1quince	2	2	0	b	soy	quince	2	\N	\N	\N	1	ben	\N	s1	\N	\N	4	5	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	'=x	\N	\N	\N
4	0168ben1quince	3	3	0	0168	oat	quince	0.8243199360527564	\N	400	\N	1	ben	2026-03-01T18:21:00+00:00	\N	\N	\N	2	6	\N	\N	\N	\N	\N	\N	2.5	stirred	no	not reached	line\nbreak, comma; "quote"	\N	\N	\N
6	0168ben1quince	4	5	0	0168	oat	quince	0.8243199360527564	\N	400	\N	1	ben	2026-03-01T18:42:00+00:00	\N	\N	\N	3	6.5	4	pie	\N	\N	\N	\N	2.5	stirred	no	right	-5 °C outside	\N	\N	\N
7	aana1quince	0	9	0	a	oat	quince	1	\N	\N	\N	1	ana	\N	s1	\N	\N	4	7	\N	\N	\N	bitter:1@aftertaste	\N	\N	\N	\N	\N	\N	=1+1	\N	\N	\N
10	goneana1plum	5	12	0	gone	soy	plum	1.597444089456869	\N	250	\N	1	ana	2026-03-01T19:45:00+00:00	\N	\N	\N	5	2	\N	\N	\N	\N	\N	\N	\N	\N	no	\N	\N	\N	\N	\N
12	bben1clove	6	14	0	b	soy	clove	0.3	\N	\N	\N	1	ben	\N	\N	\N	\N	\N	5	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N
13	bben1quince	2	14	1	b	soy	quince	2	\N	\N	\N	1	ben	\N	s1	\N	\N	4	5	\N	\N	\N	\N	\N	\N	\N	\N	\N	\N	'=x	\N	\N	\N
\.


--
-- Data for Name: recipes; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.recipes (row_id, row_key, place, batch, gone, recipe_id, version, base_id, doses, name, status, parent, note, at) FROM stdin;
1	dusk1	0	16	0	dusk	1	oat	quince=1.6	dusk	kept	\N	the first	2026-03-02T18:14:00+00:00
2	dusk2	1	17	0	dusk	2	oat	quince=1.8	dusk	trying	dusk@1	a little more	2026-03-02T18:28:00+00:00
\.


--
-- Data for Name: revisions; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.revisions (batch, at, author, action, about, write_id, digest, undoes, revision, active) FROM stdin;
1	2026-03-01T18:07:00.000000+00:00	ana	load	bases 3, flavourings 3, tasters 2, targets 1	\N	\N	\N	1	1
2	2026-03-01T18:14:00.000000+00:00	ana	load	readings 3	\N	\N	\N	2	1
4	2026-03-01T18:35:00.000000+00:00	ana	undo	log trial 0168	\N	\N	3	4	1
5	2026-03-01T18:49:00.000000+00:00	ana	log	trial 0168	log:0168	0197bc646f3fe2ae71455e16fba427b46313eded3a7232865d74b80d0bcdc18b	\N	5	1
6	2026-03-01T18:56:00.000000+00:00	ana	correct	bases: base_id 'oat'	\N	\N	\N	6	1
7	2026-03-01T19:10:00.000000+00:00	ana	calibrate	quince: 20 drops	\N	\N	\N	7	1
8	2026-03-01T19:17:00.000000+00:00	ana	load	comparisons 2	\N	\N	\N	8	1
9	2026-03-01T19:24:00.000000+00:00	ana	correct	readings: trial_id 'a', flavouring_id 'quince'	\N	\N	\N	9	1
11	2026-03-01T19:38:00.000000+00:00	ana	undo	undo correct readings: trial_id 'a', flavouring_id 'quince'	\N	\N	10	11	1
13	2026-03-01T19:59:00.000000+00:00	ana	undo	log trial gone	\N	\N	12	13	1
14	2026-03-01T20:06:00.000000+00:00	ana	load	readings 2	\N	\N	\N	14	1
3	2026-03-01T18:28:00.000000+00:00	ana	log	trial 0168	log:0168	242fb13400f7eeb8cb7f979ec21c249fb33a76d422e54a925a3efdc7dc29de3c	\N	3	0
10	2026-03-01T19:31:00.000000+00:00	ana	undo	correct readings: trial_id 'a', flavouring_id 'quince'	\N	\N	9	10	0
12	2026-03-01T19:52:00.000000+00:00	ana	log	trial gone	log:gone	443765bc8cb4b0c68372fc37afe8f620070b0150e09da236c7e67da2c4cda3b9	\N	12	0
15	2026-03-02T18:07:00.000000+00:00	ana	load	lots 3, weighings 1, photos 1	\N	\N	\N	15	1
16	2026-03-02T18:21:00.000000+00:00	ana	keep	recipe dusk, version 1	\N	\N	\N	16	1
18	2026-03-02T18:42:00.000000+00:00	ana	undo	keep recipe dusk, version 2	\N	\N	17	18	1
17	2026-03-02T18:35:00.000000+00:00	ana	keep	recipe dusk, version 2	\N	\N	\N	17	0
\.


--
-- Data for Name: settings; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.settings (name, value) FROM stdin;
currency	"GBP"
jurisdiction	"EU"
scale_g	0.05
\.


--
-- Data for Name: steps; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.steps (row_id, row_key, place, batch, gone, trial_id, step, kind, at, item_id, lot, amount_g, as_entered, taster, parent_trial_id) FROM stdin;
1	01681	0	3	0	0168	1	pour	\N	oat	\N	400	400 g	\N	\N
2	01682	1	3	0	0168	2	add	\N	quince	\N	0.32999999999999996	11 drops	\N	\N
3	01683	2	3	0	0168	3	mix	\N	\N	\N	\N	stirred	\N	\N
4	01684	3	3	0	0168	4	rest	\N	\N	\N	\N	2.5 min	\N	\N
5	01685	4	3	0	0168	5	sip	\N	\N	\N	15	15 g	ben	\N
11	01681	5	5	0	0168	1	pour	\N	oat	\N	400	400 g	\N	\N
12	01682	6	5	0	0168	2	add	\N	quince	\N	0.32999999999999996	11 drops	\N	\N
13	01683	7	5	0	0168	3	mix	\N	\N	\N	\N	stirred	\N	\N
14	01684	8	5	0	0168	4	rest	\N	\N	\N	\N	2.5 min	\N	\N
15	01685	9	5	0	0168	5	sip	\N	\N	\N	15	15 g	ben	\N
16	gone1	10	12	0	gone	1	pour	\N	soy	\N	250	250 g	\N	\N
17	gone2	11	12	0	gone	2	add	\N	plum	\N	0.4	0.4 g	\N	\N
\.


--
-- Data for Name: targets; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.targets (row_id, row_key, place, batch, gone, target_id, name, description, reference_trial_id) FROM stdin;
1	pie	0	1	0	pie	+ quince pie	​zero width	\N
\.


--
-- Data for Name: tasters; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.tasters (row_id, row_key, place, batch, gone, taster, avoid_allergens, avoid, body_mass_kg, age_years, asks_professional) FROM stdin;
1	ana	0	1	0	ana	milk	\N	61.5	\N	\N
2	ben	1	1	0	ben	\N	\N	\N	\N	\N
\.


--
-- Data for Name: weighings; Type: TABLE DATA; Schema: public; Owner: -
--

COPY public.weighings (row_id, row_key, place, batch, gone, item_id, lot, at, gross_g) FROM stdin;
1	quinceA2026-03-01T21:00:00	0	15	0	quince	A	2026-03-01T21:00:00	49.25
\.


--
-- Name: bases_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.bases_row_id_seq', 4, true);


--
-- Name: calibrations_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.calibrations_row_id_seq', 1, true);


--
-- Name: comparisons_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.comparisons_row_id_seq', 2, true);


--
-- Name: flavourings_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.flavourings_row_id_seq', 3, true);


--
-- Name: lots_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.lots_row_id_seq', 3, true);


--
-- Name: photos_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.photos_row_id_seq', 1, true);


--
-- Name: readings_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.readings_row_id_seq', 13, true);


--
-- Name: recipes_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.recipes_row_id_seq', 2, true);


--
-- Name: steps_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.steps_row_id_seq', 19, true);


--
-- Name: targets_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.targets_row_id_seq', 1, true);


--
-- Name: tasters_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.tasters_row_id_seq', 2, true);


--
-- Name: weighings_row_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.weighings_row_id_seq', 1, true);


--
-- Name: bases bases_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.bases
    ADD CONSTRAINT bases_pkey PRIMARY KEY (row_id);


--
-- Name: blobs blobs_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.blobs
    ADD CONSTRAINT blobs_pkey PRIMARY KEY (key);


--
-- Name: calibrations calibrations_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.calibrations
    ADD CONSTRAINT calibrations_pkey PRIMARY KEY (row_id);


--
-- Name: comparisons comparisons_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.comparisons
    ADD CONSTRAINT comparisons_pkey PRIMARY KEY (row_id);


--
-- Name: drafts drafts_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.drafts
    ADD CONSTRAINT drafts_pkey PRIMARY KEY (draft_id);


--
-- Name: flavourings flavourings_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.flavourings
    ADD CONSTRAINT flavourings_pkey PRIMARY KEY (row_id);


--
-- Name: lots lots_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lots
    ADD CONSTRAINT lots_pkey PRIMARY KEY (row_id);


--
-- Name: meta meta_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.meta
    ADD CONSTRAINT meta_pkey PRIMARY KEY (name);


--
-- Name: photos photos_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.photos
    ADD CONSTRAINT photos_pkey PRIMARY KEY (row_id);


--
-- Name: readings readings_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.readings
    ADD CONSTRAINT readings_pkey PRIMARY KEY (row_id);


--
-- Name: recipes recipes_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.recipes
    ADD CONSTRAINT recipes_pkey PRIMARY KEY (row_id);


--
-- Name: revisions revisions_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.revisions
    ADD CONSTRAINT revisions_pkey PRIMARY KEY (batch);


--
-- Name: settings settings_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.settings
    ADD CONSTRAINT settings_pkey PRIMARY KEY (name);


--
-- Name: steps steps_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.steps
    ADD CONSTRAINT steps_pkey PRIMARY KEY (row_id);


--
-- Name: targets targets_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.targets
    ADD CONSTRAINT targets_pkey PRIMARY KEY (row_id);


--
-- Name: tasters tasters_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.tasters
    ADD CONSTRAINT tasters_pkey PRIMARY KEY (row_id);


--
-- Name: weighings weighings_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.weighings
    ADD CONSTRAINT weighings_pkey PRIMARY KEY (row_id);


--
-- Name: ix_bases_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_bases_batch ON public.bases USING btree (batch);


--
-- Name: ix_bases_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_bases_key ON public.bases USING btree (row_key, batch);


--
-- Name: ix_bases_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_bases_place ON public.bases USING btree (place);


--
-- Name: ix_calibrations_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_calibrations_batch ON public.calibrations USING btree (batch);


--
-- Name: ix_calibrations_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_calibrations_key ON public.calibrations USING btree (row_key, batch);


--
-- Name: ix_calibrations_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_calibrations_place ON public.calibrations USING btree (place);


--
-- Name: ix_comparisons_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_comparisons_batch ON public.comparisons USING btree (batch);


--
-- Name: ix_comparisons_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_comparisons_key ON public.comparisons USING btree (row_key, batch);


--
-- Name: ix_comparisons_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_comparisons_place ON public.comparisons USING btree (place);


--
-- Name: ix_flavourings_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_flavourings_batch ON public.flavourings USING btree (batch);


--
-- Name: ix_flavourings_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_flavourings_key ON public.flavourings USING btree (row_key, batch);


--
-- Name: ix_flavourings_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_flavourings_place ON public.flavourings USING btree (place);


--
-- Name: ix_lots_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_lots_batch ON public.lots USING btree (batch);


--
-- Name: ix_lots_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_lots_key ON public.lots USING btree (row_key, batch);


--
-- Name: ix_lots_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_lots_place ON public.lots USING btree (place);


--
-- Name: ix_photos_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_photos_batch ON public.photos USING btree (batch);


--
-- Name: ix_photos_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_photos_key ON public.photos USING btree (row_key, batch);


--
-- Name: ix_photos_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_photos_place ON public.photos USING btree (place);


--
-- Name: ix_readings_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_readings_batch ON public.readings USING btree (batch);


--
-- Name: ix_readings_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_readings_key ON public.readings USING btree (row_key, batch);


--
-- Name: ix_readings_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_readings_place ON public.readings USING btree (place);


--
-- Name: ix_readings_trial; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_readings_trial ON public.readings USING btree (trial_id);


--
-- Name: ix_recipes_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_recipes_batch ON public.recipes USING btree (batch);


--
-- Name: ix_recipes_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_recipes_key ON public.recipes USING btree (row_key, batch);


--
-- Name: ix_recipes_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_recipes_place ON public.recipes USING btree (place);


--
-- Name: ix_revisions_inactive; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_revisions_inactive ON public.revisions USING btree (batch) WHERE (active = 0);


--
-- Name: ix_revisions_revision; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_revisions_revision ON public.revisions USING btree (revision);


--
-- Name: ix_revisions_write_id; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_revisions_write_id ON public.revisions USING btree (write_id);


--
-- Name: ix_steps_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_steps_batch ON public.steps USING btree (batch);


--
-- Name: ix_steps_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_steps_key ON public.steps USING btree (row_key, batch);


--
-- Name: ix_steps_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_steps_place ON public.steps USING btree (place);


--
-- Name: ix_steps_trial; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_steps_trial ON public.steps USING btree (trial_id);


--
-- Name: ix_targets_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_targets_batch ON public.targets USING btree (batch);


--
-- Name: ix_targets_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_targets_key ON public.targets USING btree (row_key, batch);


--
-- Name: ix_targets_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_targets_place ON public.targets USING btree (place);


--
-- Name: ix_tasters_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_tasters_batch ON public.tasters USING btree (batch);


--
-- Name: ix_tasters_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_tasters_key ON public.tasters USING btree (row_key, batch);


--
-- Name: ix_tasters_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_tasters_place ON public.tasters USING btree (place);


--
-- Name: ix_weighings_batch; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_weighings_batch ON public.weighings USING btree (batch);


--
-- Name: ix_weighings_key; Type: INDEX; Schema: public; Owner: -
--

CREATE UNIQUE INDEX ix_weighings_key ON public.weighings USING btree (row_key, batch);


--
-- Name: ix_weighings_place; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_weighings_place ON public.weighings USING btree (place);


--
-- Name: bases bases_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.bases
    ADD CONSTRAINT bases_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: calibrations calibrations_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.calibrations
    ADD CONSTRAINT calibrations_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: comparisons comparisons_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.comparisons
    ADD CONSTRAINT comparisons_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: flavourings flavourings_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.flavourings
    ADD CONSTRAINT flavourings_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: lots lots_batch_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lots
    ADD CONSTRAINT lots_batch_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: photos photos_batch_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.photos
    ADD CONSTRAINT photos_batch_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: readings readings_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.readings
    ADD CONSTRAINT readings_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: recipes recipes_batch_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.recipes
    ADD CONSTRAINT recipes_batch_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: steps steps_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.steps
    ADD CONSTRAINT steps_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: targets targets_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.targets
    ADD CONSTRAINT targets_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: tasters tasters_revision_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.tasters
    ADD CONSTRAINT tasters_revision_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- Name: weighings weighings_batch_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.weighings
    ADD CONSTRAINT weighings_batch_fkey FOREIGN KEY (batch) REFERENCES public.revisions(batch);


--
-- PostgreSQL database dump complete
--


