BEGIN TRANSACTION;
CREATE TABLE agreed_changes (
	number INTEGER NOT NULL, 
	told_at BIGINT NOT NULL, 
	told_by TEXT NOT NULL, 
	changed_us BIGINT NOT NULL, 
	why TEXT NOT NULL, 
	CONSTRAINT pk_agreed_changes PRIMARY KEY (number)
);
INSERT INTO "agreed_changes" VALUES(1,1767585600000012,'bo',1767225600000060,'new film');
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0007');
CREATE TABLE audit (
	number INTEGER NOT NULL, 
	changed_at BIGINT NOT NULL, 
	changed_by TEXT NOT NULL, 
	what TEXT NOT NULL, 
	detail TEXT NOT NULL, 
	previous TEXT NOT NULL, 
	chain TEXT NOT NULL, 
	source TEXT, 
	CONSTRAINT pk_audit PRIMARY KEY (number)
);
INSERT INTO "audit" VALUES(1,1767585600000000,'ann','load inspections','{"new_codes":{"fabrics":["fleece","rib"],"kinds":["zap"],"presses":["P1","P2"],"transfers":["film","foam"]},"rows":5,"written":[["presses",1,2,"2896cfd3be76811e"],["fabrics",1,2,"85db0c53d1070423"],["transfers",1,2,"8471211ef3f05a61"],["inspections",1,5,"7217e7b518af19f4"]]}','','855706c90c1cd138b31aaa29b74ea822fcbb25dd2ee86ba30e25c0b4a613ea2b','week 1.csv');
INSERT INTO "audit" VALUES(2,1767585600000005,'bo','correct inspection','{"piece_id":"c","version":2,"why":"misread","written":[["inspections",6,6,"fd663c0424a49c0f"]]}','855706c90c1cd138b31aaa29b74ea822fcbb25dd2ee86ba30e25c0b4a613ea2b','6b40bb894dd222a0c462c04ee380ba44f84fcae33eeddd8f5c5b11277f7df878',NULL);
INSERT INTO "audit" VALUES(3,1767585600000006,'ann','load presses','{"rows":1,"written":[["presses",3,3,"8739aaa5c4f4e3eb"]]}','6b40bb894dd222a0c462c04ee380ba44f84fcae33eeddd8f5c5b11277f7df878','95ee4b0099134b476c62bc34b7fc76081c84284f44ad68d87f79d7a51c407e0c',NULL);
INSERT INTO "audit" VALUES(4,1767585600000007,'ann','load fabrics','{"rows":1,"written":[["fabrics",3,3,"a1088129de78fb23"]]}','95ee4b0099134b476c62bc34b7fc76081c84284f44ad68d87f79d7a51c407e0c','d97942204a1d2ba6665525d06f3bb353622f37f8ce278808bf60b4e6e530ea34',NULL);
INSERT INTO "audit" VALUES(5,1767585600000008,'ann','load recipes','{"rows":1,"written":[["recipes",1,1,"6244e9f8217aa256"]]}','d97942204a1d2ba6665525d06f3bb353622f37f8ce278808bf60b4e6e530ea34','39342f5f597c8cbf04e166c70d83271fa13d8493c92213dc565497ab7d2212da',NULL);
INSERT INTO "audit" VALUES(6,1767585600000009,'ann','load pull_checks','{"rows":1,"written":[["pull_checks",1,1,"45d5839f5c7a60b5"]]}','39342f5f597c8cbf04e166c70d83271fa13d8493c92213dc565497ab7d2212da','921464c25137f78453add5568c86c3bcfe7c30b01cb9d72db91c524e14cb730a',NULL);
INSERT INTO "audit" VALUES(7,1767585600000010,'ann','load placements','{"rows":1,"written":[["placements",1,1,"d263998706b0bafb"]]}','921464c25137f78453add5568c86c3bcfe7c30b01cb9d72db91c524e14cb730a','784a619d959a88ded543b54b66c3c7541e6d72ccaef44b3b01ef76737d40767f',NULL);
INSERT INTO "audit" VALUES(8,1767585600000011,'ann','load instruments','{"rows":1,"written":[["instruments",1,1,"89d6f04f845d66ea"]]}','784a619d959a88ded543b54b66c3c7541e6d72ccaef44b3b01ef76737d40767f','96147e48ef59c23214815b52a6da84e6c9e4d74fd1429b031665638c00d7471e',NULL);
INSERT INTO "audit" VALUES(9,1767585600000012,'ann','load platen_readings','{"rows":1,"written":[["platen_readings",1,1,"649941331a4f75a6"]]}','96147e48ef59c23214815b52a6da84e6c9e4d74fd1429b031665638c00d7471e','ab7adc631b0a10a8da85d1d05a9a347e0d2d79a40d06928817e6e6e69fb02ddd',NULL);
INSERT INTO "audit" VALUES(10,1767585600000009,'ann','change setting','{"after":"Europe/Lisbon","before":null,"name":"timezone"}','ab7adc631b0a10a8da85d1d05a9a347e0d2d79a40d06928817e6e6e69fb02ddd','12223fdc4ee2682d163e58b9894714f65cd53760ce94d6ccfc27ed2671248063',NULL);
INSERT INTO "audit" VALUES(11,1767585600000011,'ann','freeze baseline','{"decided_at":1767585600000011,"decided_by":"ann","evidence":"{\"n_pieces\": 34}","from_us":1767225600000000,"number":1,"until_us":1767585600000000,"why":"a calm week"}','12223fdc4ee2682d163e58b9894714f65cd53760ce94d6ccfc27ed2671248063','b4cd10232ea71871992ad81af3c3ed68f596400ee2468e10f2f7974858b71399',NULL);
INSERT INTO "audit" VALUES(12,1767585600000012,'bo','tell agreed change','{"changed_us":1767225600000060,"number":1,"told_at":1767585600000012,"told_by":"bo","why":"new film"}','b4cd10232ea71871992ad81af3c3ed68f596400ee2468e10f2f7974858b71399','837cd45f2cd0289d22dbe9e4dd5af9e68b789a61e5708fa9f0479d72b949d87f',NULL);
INSERT INTO "audit" VALUES(13,1767585600000013,'ann','load jobs','{"rows":1,"written":[["jobs",1,1,"265db8de328b19fd"]]}','837cd45f2cd0289d22dbe9e4dd5af9e68b789a61e5708fa9f0479d72b949d87f','0b4e64e7d418b624caa9dc1e5e5afd4bfdac8f3c1b8bbad5f32f6b580b941ecb',NULL);
INSERT INTO "audit" VALUES(14,1767585600000014,'ann','case step','{"case_steps":[{"flag_id":"f1","number":1,"said":"{\"flag\": {\"after\": 0.05, \"also\": [\"incomplete_cure\"], \"before\": 0.01, \"changed_at_us\": 1767225600000060, \"changed_between_us\": [1767225600000030, 1767225600000080], \"characteristic\": \"lifted_edge\", \"direction\": \"up\", \"ended_at_us\": null, \"expected_after\": 0.012, \"factor\": {\"level\": \"P1\", \"name\": \"press\", \"weight\": 0.9}, \"id\": \"f1\", \"kind\": \"defect_rate\", \"message\": \"Edges lift on press P1.\", \"next_step\": \"Check first: the gauge.\", \"other_factors\": [{\"level\": null, \"name\": \"shop\", \"weight\": 0.1}], \"part_of\": null, \"pieces_at_risk\": 4, \"platen\": null, \"press\": \"P1\", \"settle\": null, \"signalled_at_us\": 1767225600000090, \"sure\": \"\", \"unit\": \"per piece\", \"urgency\": 1.0, \"zone\": null}}","step":"open","taken_at":1767585600000014,"taken_by":"ann"},{"flag_id":"f1","number":2,"said":"{}","step":"acknowledge","taken_at":1767585600000014,"taken_by":"ann"}]}','0b4e64e7d418b624caa9dc1e5e5afd4bfdac8f3c1b8bbad5f32f6b580b941ecb','0199ec38998a27aa6483a29f8869ea8591342b6a2cb94b1879709d53e644406e',NULL);
INSERT INTO "audit" VALUES(15,1767585600000015,'bo','case step','{"case_steps":[{"flag_id":"f1","number":3,"said":"{\"words\": \"é; <b>\"}","step":"note","taken_at":1767585600000015,"taken_by":"bo"}]}','0199ec38998a27aa6483a29f8869ea8591342b6a2cb94b1879709d53e644406e','6974786f99ae5a0745fcd92780cf354a998939cf5cc96858db651d6aef56a0f4',NULL);
INSERT INTO "audit" VALUES(16,1767585600000016,'ann','service step','{"service_steps":[{"number":1,"order_id":"S1","said":"{\"evidence\": [[\"State of the platen\", \"In tolerance.\"]], \"platen\": \"upper\", \"press\": \"P1\", \"reason\": \"person\", \"words\": \"cold; é\"}","step":"open","taken_at":1767585600000016,"taken_by":"ann"}]}','6974786f99ae5a0745fcd92780cf354a998939cf5cc96858db651d6aef56a0f4','b137deb1abdaed8cc6de52a2ec8a788dd742d4a1a2645ab48df82252388a06be',NULL);
INSERT INTO "audit" VALUES(17,1767585600000017,'ann','service step','{"service_steps":[{"number":2,"order_id":"S1","said":"{\"name\": \"Bo\"}","step":"owner","taken_at":1767585600000017,"taken_by":"ann"}]}','b137deb1abdaed8cc6de52a2ec8a788dd742d4a1a2645ab48df82252388a06be','eaceb487d1d66ef3a673be02fcc091fc7f138accb8102574b1e923fab4f70d85',NULL);
INSERT INTO "audit" VALUES(18,1767585600000018,'ann','freeze limits of a stream','{"decided_at":1767585600000018,"decided_by":"ann","evidence":"{\"fit\": true, \"n_points\": 24}","from_us":1767225600000000,"kind":"mix","known":"{\"rates\": [[\"rib\", \"film\", null, 0.02]], \"ratio\": 1.25, \"spread\": 1.0}","number":1,"stream":"{\"by\": \"press\", \"level\": \"P1\", \"of\": \"scorch\", \"platen\": \"\", \"step\": \"day\", \"subject\": \"defects\"}","until_us":1767585600000000,"why":"a calm stretch; é"}','eaceb487d1d66ef3a673be02fcc091fc7f138accb8102574b1e923fab4f70d85','4d9602fb0b3a2667daa4316723b9a2076fc61b0744804894a2e9f164b6ecd05f',NULL);
INSERT INTO "audit" VALUES(19,1767585600000019,'bo','list step','{"list_steps":[{"entry":"kinds:zap","number":1,"said":"{}","step":"retire","taken_at":1767585600000019,"taken_by":"bo"}]}','4d9602fb0b3a2667daa4316723b9a2076fc61b0744804894a2e9f164b6ecd05f','0af14c60e9283e987ac017b8ac76afe8224e83647be1775b55147a79f9242348',NULL);
CREATE TABLE baselines (
	number INTEGER NOT NULL, 
	decided_at BIGINT NOT NULL, 
	decided_by TEXT NOT NULL, 
	from_us BIGINT NOT NULL, 
	until_us BIGINT, 
	why TEXT NOT NULL, 
	evidence TEXT NOT NULL, 
	CONSTRAINT pk_baselines PRIMARY KEY (number)
);
INSERT INTO "baselines" VALUES(1,1767585600000011,'ann',1767225600000000,1767585600000000,'a calm week','{"n_pieces": 34}');
CREATE TABLE case_steps (
	number INTEGER NOT NULL, 
	flag_id TEXT NOT NULL, 
	step TEXT NOT NULL, 
	taken_at BIGINT NOT NULL, 
	taken_by TEXT NOT NULL, 
	said TEXT NOT NULL, 
	CONSTRAINT pk_case_steps PRIMARY KEY (number)
);
INSERT INTO "case_steps" VALUES(1,'f1','open',1767585600000014,'ann','{"flag": {"after": 0.05, "also": ["incomplete_cure"], "before": 0.01, "changed_at_us": 1767225600000060, "changed_between_us": [1767225600000030, 1767225600000080], "characteristic": "lifted_edge", "direction": "up", "ended_at_us": null, "expected_after": 0.012, "factor": {"level": "P1", "name": "press", "weight": 0.9}, "id": "f1", "kind": "defect_rate", "message": "Edges lift on press P1.", "next_step": "Check first: the gauge.", "other_factors": [{"level": null, "name": "shop", "weight": 0.1}], "part_of": null, "pieces_at_risk": 4, "platen": null, "press": "P1", "settle": null, "signalled_at_us": 1767225600000090, "sure": "", "unit": "per piece", "urgency": 1.0, "zone": null}}');
INSERT INTO "case_steps" VALUES(2,'f1','acknowledge',1767585600000014,'ann','{}');
INSERT INTO "case_steps" VALUES(3,'f1','note',1767585600000015,'bo','{"words": "é; <b>"}');
CREATE TABLE day_defect_tally (
	look BIGINT NOT NULL, 
	kind BIGINT NOT NULL, 
	day_us BIGINT NOT NULL, 
	fabric BIGINT NOT NULL, 
	transfer BIGINT NOT NULL, 
	location BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	CONSTRAINT pk_day_defect_tally PRIMARY KEY (look, kind, day_us, fabric, transfer, location)
)
 WITHOUT ROWID

;
INSERT INTO "day_defect_tally" VALUES(13,9,1767225600000000,3,4,5,1);
INSERT INTO "day_defect_tally" VALUES(13,11,1767225600000000,3,4,5,2);
INSERT INTO "day_defect_tally" VALUES(13,26,1767225600000000,3,4,5,1);
INSERT INTO "day_defect_tally" VALUES(15,10,1767225600000000,3,4,5,1);
CREATE TABLE day_tally (
	look BIGINT NOT NULL, 
	day_us BIGINT NOT NULL, 
	fabric BIGINT NOT NULL, 
	transfer BIGINT NOT NULL, 
	location BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	n_defective BIGINT NOT NULL, 
	CONSTRAINT pk_day_tally PRIMARY KEY (look, day_us, fabric, transfer, location)
)
 WITHOUT ROWID

;
INSERT INTO "day_tally" VALUES(13,1767225600000000,3,4,0,1,0);
INSERT INTO "day_tally" VALUES(13,1767225600000000,3,4,5,32,4);
INSERT INTO "day_tally" VALUES(15,1767225600000000,3,4,5,1,0);
CREATE TABLE defect_kinds (
	changed_at BIGINT NOT NULL, 
	kind TEXT NOT NULL, 
	changed_by TEXT NOT NULL, 
	CONSTRAINT pk_defect_kinds PRIMARY KEY (kind)
);
INSERT INTO "defect_kinds" VALUES(1767585600000000,'zap','ann');
CREATE TABLE defect_tally (
	hour_us BIGINT NOT NULL, 
	press BIGINT NOT NULL, 
	fabric BIGINT NOT NULL, 
	transfer BIGINT NOT NULL, 
	location BIGINT NOT NULL, 
	look BIGINT NOT NULL, 
	kind BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	CONSTRAINT pk_defect_tally PRIMARY KEY (hour_us, press, fabric, transfer, location, look, kind)
)
 WITHOUT ROWID

;
INSERT INTO "defect_tally" VALUES(1767225600000000,1,3,4,5,13,9,1);
INSERT INTO "defect_tally" VALUES(1767225600000000,1,3,4,5,13,11,2);
INSERT INTO "defect_tally" VALUES(1767225600000000,1,3,4,5,15,10,1);
INSERT INTO "defect_tally" VALUES(1767225600000000,2,3,4,5,13,26,1);
CREATE TABLE fabrics (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	changed_by TEXT NOT NULL, 
	fabric TEXT NOT NULL, 
	why TEXT, 
	name TEXT, 
	surface TEXT, 
	cotton_pct DOUBLE, 
	polyester_pct DOUBLE, 
	other_pct DOUBLE, 
	weight_gsm DOUBLE, 
	heat_limit_c DOUBLE, 
	CONSTRAINT pk_fabrics PRIMARY KEY (number), 
	CONSTRAINT uq_fabrics_identity UNIQUE (identity, revision)
);
INSERT INTO "fabrics" VALUES(1,-3222293912834572721,-3222293912834572721,0,1767585600000000,NULL,'ann','fleece',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "fabrics" VALUES(2,-5579133579802212908,-5579133579802212908,0,1767585600000000,0,'ann','rib',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "fabrics" VALUES(3,-5579133579802212908,-6843077616963355869,1,1767585600000007,NULL,'ann','rib',NULL,NULL,'ribbed',95.0,NULL,NULL,NULL,NULL);
CREATE TABLE factor_tally (
	factor BIGINT NOT NULL, 
	hour_us BIGINT NOT NULL, 
	level BIGINT NOT NULL, 
	fabric BIGINT NOT NULL, 
	transfer BIGINT NOT NULL, 
	location BIGINT NOT NULL, 
	look BIGINT NOT NULL, 
	kind BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	CONSTRAINT pk_factor_tally PRIMARY KEY (factor, hour_us, level, fabric, transfer, location, look, kind)
)
 WITHOUT ROWID

;
INSERT INTO "factor_tally" VALUES(17,1767225600000000,0,3,4,5,13,0,1);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,0,3,4,5,13,26,1);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,6,3,4,0,13,0,1);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,6,3,4,5,13,0,31);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,6,3,4,5,13,9,1);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,6,3,4,5,13,11,2);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,6,3,4,5,15,0,1);
INSERT INTO "factor_tally" VALUES(17,1767225600000000,6,3,4,5,15,10,1);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,0,13,0,1);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,5,13,0,32);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,5,13,9,1);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,5,13,11,2);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,5,13,26,1);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,5,15,0,1);
INSERT INTO "factor_tally" VALUES(18,1767225600000000,7,3,4,5,15,10,1);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,0,13,0,1);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,5,13,0,32);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,5,13,9,1);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,5,13,11,2);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,5,13,26,1);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,5,15,0,1);
INSERT INTO "factor_tally" VALUES(19,1767225600000000,0,3,4,5,15,10,1);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,0,13,0,1);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,5,13,0,32);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,5,13,9,1);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,5,13,11,2);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,5,13,26,1);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,5,15,0,1);
INSERT INTO "factor_tally" VALUES(20,1767225600000000,8,3,4,5,15,10,1);
INSERT INTO "factor_tally" VALUES(21,1767225600000000,0,3,4,5,13,11,2);
INSERT INTO "factor_tally" VALUES(21,1767225600000000,0,3,4,5,15,10,1);
INSERT INTO "factor_tally" VALUES(21,1767225600000000,12,3,4,5,13,9,1);
INSERT INTO "factor_tally" VALUES(21,1767225600000000,27,3,4,5,13,26,1);
CREATE TABLE findings (
	look INTEGER NOT NULL, 
	position BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	kind TEXT NOT NULL, 
	zone TEXT, 
	extent_mm DOUBLE, 
	CONSTRAINT pk_findings PRIMARY KEY (look, position), 
	CONSTRAINT fk_findings_look FOREIGN KEY(look) REFERENCES inspections (number)
)
 WITHOUT ROWID

;
INSERT INTO "findings" VALUES(1,1,1,'scorch','top',2.5);
INSERT INTO "findings" VALUES(2,1,1,'bubble',NULL,NULL);
INSERT INTO "findings" VALUES(5,1,2,'zap',NULL,NULL);
INSERT INTO "findings" VALUES(6,1,1,'wrinkle','left',NULL);
CREATE TABLE inspections (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	attempt BIGINT NOT NULL, 
	inspected_at BIGINT NOT NULL, 
	pressed_at BIGINT NOT NULL, 
	pieces BIGINT NOT NULL, 
	superseded_at BIGINT, 
	defective BIGINT, 
	changed_by TEXT NOT NULL, 
	piece_id TEXT NOT NULL, 
	stage TEXT NOT NULL, 
	press TEXT NOT NULL, 
	fabric TEXT NOT NULL, 
	transfer TEXT NOT NULL, 
	disposition TEXT NOT NULL, 
	why TEXT, 
	station TEXT, 
	location TEXT, 
	size TEXT, 
	job TEXT, 
	garment_lot TEXT, 
	transfer_lot TEXT, 
	operator TEXT, 
	inspector TEXT, 
	pressure_class TEXT, 
	cover TEXT, 
	note TEXT, 
	temperature_c DOUBLE, 
	temperature_lower_c DOUBLE, 
	dwell_s DOUBLE, 
	prepress_s DOUBLE, 
	second_press_s DOUBLE, 
	pressure_kpa DOUBLE, 
	pressure_dial DOUBLE, 
	peel_wait_s DOUBLE, 
	dx_mm DOUBLE, 
	dy_mm DOUBLE, 
	rotation_deg DOUBLE, 
	CONSTRAINT pk_inspections PRIMARY KEY (number), 
	CONSTRAINT uq_inspections_identity UNIQUE (identity, revision)
);
INSERT INTO "inspections" VALUES(1,7149057206912550921,2606271767047857120,1,1767585600000000,1,1767226200000000,1767225600000000,1,NULL,NULL,'ann','a','final','P1','fleece','film','pass',NULL,NULL,'left_chest',NULL,'J1',NULL,'L1','ann',NULL,NULL,NULL,NULL,160.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "inspections" VALUES(2,7149057206912550923,-1202098315938824164,1,1767585600000000,1,1767226200000000,1767225600000000,1,NULL,NULL,'ann','a','wash','P1','fleece','film','pass',NULL,NULL,'left_chest',NULL,'J1',NULL,'L1','ann',NULL,NULL,NULL,NULL,160.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "inspections" VALUES(3,-4869178253763961847,-469604663487208090,1,1767585600000000,1,1767226200000000,1767225600000000,1,NULL,NULL,'ann','b','final','P1','fleece','film','pass',NULL,NULL,NULL,NULL,'J1',NULL,'L1','ann',NULL,NULL,NULL,'=1+1; é',160.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "inspections" VALUES(4,-1953690423498358775,2058670940847380725,1,1767585600000000,1,1767226200000000,1767225600000000,1,1767585600000005,NULL,'ann','c','final','P2','fleece','film','pass',NULL,NULL,'left_chest',NULL,'J1',NULL,'L1',NULL,NULL,NULL,NULL,NULL,160.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "inspections" VALUES(5,-5875942183057874935,5228054681308149661,1,1767585600000000,1,1767226200000000,1767225600000000,30,NULL,2,'ann','hour','final','P1','fleece','film','pass',NULL,NULL,'left_chest',NULL,'J1',NULL,'L1','ann',NULL,NULL,NULL,NULL,160.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "inspections" VALUES(6,-1953690423498358775,-187396345996993521,2,1767585600000005,1,1767226200000000,1767225600000000,1,NULL,NULL,'bo','c','final','P2','fleece','film','pass','misread',NULL,'left_chest',NULL,'J1',NULL,'L1',NULL,NULL,NULL,NULL,NULL,151.5,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE instruments (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	calibrated_at BIGINT, 
	due_at BIGINT, 
	changed_by TEXT NOT NULL, 
	instrument TEXT NOT NULL, 
	why TEXT, 
	uncertainty_c DOUBLE, 
	k DOUBLE, sensor TEXT, meter_c DOUBLE, contact_c DOUBLE, repeat_c DOUBLE, 
	CONSTRAINT pk_instruments PRIMARY KEY (number), 
	CONSTRAINT uq_instruments_identity UNIQUE (identity, revision)
);
INSERT INTO "instruments" VALUES(1,-4242920262627865250,-8514353821183547670,1,1767585600000011,NULL,NULL,NULL,'ann','probe 2',NULL,1.1,2.0,'pt100_class_a',NULL,0.7,0.3);
CREATE TABLE jobs (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	ordered BIGINT, 
	changed_by TEXT NOT NULL, 
	job TEXT NOT NULL, 
	why TEXT, 
	fabric TEXT, 
	transfer TEXT, 
	location TEXT, shipped_at BIGINT, 
	CONSTRAINT pk_jobs PRIMARY KEY (number), 
	CONSTRAINT uq_jobs_identity UNIQUE (identity, revision)
);
INSERT INTO "jobs" VALUES(1,-6895823829414636446,2764569010745580029,1,1767585600000013,NULL,30,'ann','J1',NULL,'rib',NULL,NULL,1767225600007200);
CREATE TABLE list_steps (
	number INTEGER NOT NULL, 
	entry TEXT NOT NULL, 
	step TEXT NOT NULL, 
	taken_at BIGINT NOT NULL, 
	taken_by TEXT NOT NULL, 
	said TEXT NOT NULL, 
	CONSTRAINT pk_list_steps PRIMARY KEY (number)
);
INSERT INTO "list_steps" VALUES(1,'kinds:zap','retire',1767585600000019,'bo','{}');
CREATE TABLE machine_checks (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	measured_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	changed_by TEXT NOT NULL, 
	press TEXT NOT NULL, 
	quantity TEXT NOT NULL, 
	state TEXT NOT NULL, 
	why TEXT, 
	instrument TEXT, 
	set_value DOUBLE NOT NULL, 
	measured_value DOUBLE NOT NULL, 
	CONSTRAINT pk_machine_checks PRIMARY KEY (number), 
	CONSTRAINT uq_machine_checks_identity UNIQUE (identity, revision)
);
CREATE TABLE mix_tally (
	part BIGINT NOT NULL, 
	fabric BIGINT NOT NULL, 
	transfer BIGINT NOT NULL, 
	location BIGINT NOT NULL, 
	look BIGINT NOT NULL, 
	kind BIGINT NOT NULL, 
	zone BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	CONSTRAINT pk_mix_tally PRIMARY KEY (part, fabric, transfer, location, look, kind, zone)
)
 WITHOUT ROWID

;
INSERT INTO "mix_tally" VALUES(22,3,4,0,13,0,0,1);
INSERT INTO "mix_tally" VALUES(22,3,4,5,13,0,0,32);
INSERT INTO "mix_tally" VALUES(22,3,4,5,15,0,0,1);
INSERT INTO "mix_tally" VALUES(23,3,4,5,13,0,0,4);
INSERT INTO "mix_tally" VALUES(24,3,4,5,13,9,0,1);
INSERT INTO "mix_tally" VALUES(24,3,4,5,13,11,0,2);
INSERT INTO "mix_tally" VALUES(24,3,4,5,13,26,0,1);
INSERT INTO "mix_tally" VALUES(24,3,4,5,15,10,0,1);
INSERT INTO "mix_tally" VALUES(25,3,4,5,13,9,12,1);
INSERT INTO "mix_tally" VALUES(25,3,4,5,13,11,0,2);
INSERT INTO "mix_tally" VALUES(25,3,4,5,13,26,27,1);
INSERT INTO "mix_tally" VALUES(25,3,4,5,15,10,0,1);
CREATE TABLE piece_tally (
	hour_us BIGINT NOT NULL, 
	press BIGINT NOT NULL, 
	fabric BIGINT NOT NULL, 
	transfer BIGINT NOT NULL, 
	location BIGINT NOT NULL, 
	look BIGINT NOT NULL, 
	n BIGINT NOT NULL, 
	n_defective BIGINT NOT NULL, 
	CONSTRAINT pk_piece_tally PRIMARY KEY (hour_us, press, fabric, transfer, location, look)
)
 WITHOUT ROWID

;
INSERT INTO "piece_tally" VALUES(1767225600000000,1,3,4,0,13,1,0);
INSERT INTO "piece_tally" VALUES(1767225600000000,1,3,4,5,13,31,3);
INSERT INTO "piece_tally" VALUES(1767225600000000,1,3,4,5,15,1,0);
INSERT INTO "piece_tally" VALUES(1767225600000000,2,3,4,5,13,1,1);
CREATE TABLE placements (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	changed_by TEXT NOT NULL, 
	location TEXT NOT NULL, 
	why TEXT, 
	reference TEXT, 
	part_measured TEXT, 
	dx_tolerance_mm DOUBLE, 
	dy_tolerance_mm DOUBLE, 
	rotation_tolerance_deg DOUBLE, print_width_mm DOUBLE, print_height_mm DOUBLE, platen_right_mm DOUBLE, platen_near_mm DOUBLE, 
	CONSTRAINT pk_placements PRIMARY KEY (number), 
	CONSTRAINT uq_placements_identity UNIQUE (identity, revision)
);
INSERT INTO "placements" VALUES(1,8351674075679243278,-3286614497838449925,1,1767585600000010,NULL,'ann','back',NULL,NULL,NULL,6.0,NULL,NULL,300.0,350.0,NULL,-20.0);
CREATE TABLE platen_readings (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	measured_at BIGINT NOT NULL, 
	"row" BIGINT NOT NULL, 
	col BIGINT NOT NULL, 
	superseded_at BIGINT, 
	changed_by TEXT NOT NULL, 
	survey_id TEXT NOT NULL, 
	press TEXT NOT NULL, 
	platen TEXT NOT NULL, 
	state TEXT NOT NULL, 
	why TEXT, 
	instrument TEXT, 
	setpoint_c DOUBLE NOT NULL, 
	reading_c DOUBLE NOT NULL, 
	CONSTRAINT pk_platen_readings PRIMARY KEY (number), 
	CONSTRAINT uq_platen_readings_identity UNIQUE (identity, revision)
);
INSERT INTO "platen_readings" VALUES(1,3174633083564348892,7248896762970076582,1,1767585600000012,1767225600000000,1,1,NULL,'ann','s1','P1','upper','routine',NULL,NULL,160.0,157.25);
CREATE TABLE presses (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	changed_by TEXT NOT NULL, 
	press TEXT NOT NULL, 
	why TEXT, 
	name TEXT, 
	kind TEXT, 
	heated_lower TEXT, 
	platen_width_mm DOUBLE, 
	platen_height_mm DOUBLE, 
	temperature_tolerance_c DOUBLE, 
	uniformity_tolerance_c DOUBLE, 
	check_every_days DOUBLE, 
	CONSTRAINT pk_presses PRIMARY KEY (number), 
	CONSTRAINT uq_presses_identity UNIQUE (identity, revision)
);
INSERT INTO "presses" VALUES(1,5939136967511425315,5939136967511425315,0,1767585600000000,0,'ann','P1',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "presses" VALUES(2,-3014383451147223045,-3014383451147223045,0,1767585600000000,NULL,'ann','P2',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "presses" VALUES(3,5939136967511425315,-8702737175966063637,1,1767585600000006,NULL,'ann','P1',NULL,'by the door',NULL,NULL,NULL,NULL,5.0,NULL,NULL);
CREATE TABLE pull_checks (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	changed_by TEXT NOT NULL, 
	why TEXT, 
	superseded_at BIGINT, 
	measured_at BIGINT NOT NULL, 
	press TEXT NOT NULL, 
	station TEXT, 
	place TEXT NOT NULL, 
	grip BIGINT NOT NULL, 
	method TEXT NOT NULL, 
	state TEXT NOT NULL, 
	CONSTRAINT pk_pull_checks PRIMARY KEY (number), 
	CONSTRAINT uq_pull_checks_identity UNIQUE (identity, revision)
);
INSERT INTO "pull_checks" VALUES(1,-5694364915159183486,5032072879130960053,1,1767585600000009,'ann',NULL,NULL,1767225600000000,'P1','A','near_left',1,'paper','routine');
CREATE TABLE recipes (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	valid_from BIGINT, 
	changed_by TEXT NOT NULL, 
	fabric TEXT NOT NULL, 
	transfer TEXT NOT NULL, 
	version TEXT NOT NULL, 
	why TEXT, 
	pressure_class TEXT, 
	peel TEXT, 
	cover TEXT, 
	temperature_c DOUBLE, 
	temperature_low_c DOUBLE, 
	temperature_high_c DOUBLE, 
	dwell_s DOUBLE, 
	dwell_low_s DOUBLE, 
	dwell_high_s DOUBLE, 
	pressure_kpa DOUBLE, 
	pressure_low_kpa DOUBLE, 
	pressure_high_kpa DOUBLE, 
	pressure_dial DOUBLE, 
	pressure_low_dial DOUBLE, 
	pressure_high_dial DOUBLE, 
	peel_wait_s DOUBLE, 
	second_press_s DOUBLE, 
	CONSTRAINT pk_recipes PRIMARY KEY (number), 
	CONSTRAINT uq_recipes_identity UNIQUE (identity, revision)
);
INSERT INTO "recipes" VALUES(1,-6740979536042000494,7081041766056108630,1,1767585600000008,NULL,NULL,'ann','rib','film','1',NULL,NULL,NULL,NULL,155.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE service_steps (
	number INTEGER NOT NULL, 
	order_id TEXT NOT NULL, 
	step TEXT NOT NULL, 
	taken_at BIGINT NOT NULL, 
	taken_by TEXT NOT NULL, 
	said TEXT NOT NULL, 
	CONSTRAINT pk_service_steps PRIMARY KEY (number)
);
INSERT INTO "service_steps" VALUES(1,'S1','open',1767585600000016,'ann','{"evidence": [["State of the platen", "In tolerance."]], "platen": "upper", "press": "P1", "reason": "person", "words": "cold; é"}');
INSERT INTO "service_steps" VALUES(2,'S1','owner',1767585600000017,'ann','{"name": "Bo"}');
CREATE TABLE settings (
	name TEXT NOT NULL, 
	value TEXT NOT NULL, 
	CONSTRAINT pk_settings PRIMARY KEY (name)
);
INSERT INTO "settings" VALUES('timezone','Europe/Lisbon');
CREATE TABLE stream_baselines (
	number INTEGER NOT NULL, 
	decided_at BIGINT NOT NULL, 
	decided_by TEXT NOT NULL, 
	stream TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	from_us BIGINT NOT NULL, 
	until_us BIGINT NOT NULL, 
	why TEXT NOT NULL, 
	known TEXT NOT NULL, 
	evidence TEXT NOT NULL, 
	CONSTRAINT pk_stream_baselines PRIMARY KEY (number)
);
INSERT INTO "stream_baselines" VALUES(1,1767585600000018,'ann','{"by": "press", "level": "P1", "of": "scorch", "platen": "", "step": "day", "subject": "defects"}','mix',1767225600000000,1767585600000000,'a calm stretch; é','{"rates": [["rib", "film", null, 0.02]], "ratio": 1.25, "spread": 1.0}','{"fit": true, "n_points": 24}');
CREATE TABLE transfers (
	number INTEGER NOT NULL, 
	identity BIGINT NOT NULL, 
	content BIGINT NOT NULL, 
	revision BIGINT NOT NULL, 
	changed_at BIGINT NOT NULL, 
	superseded_at BIGINT, 
	changed_by TEXT NOT NULL, 
	transfer TEXT NOT NULL, 
	why TEXT, 
	name TEXT, 
	kind TEXT, 
	CONSTRAINT pk_transfers PRIMARY KEY (number), 
	CONSTRAINT uq_transfers_identity UNIQUE (identity, revision)
);
INSERT INTO "transfers" VALUES(1,-5632869741813931368,-5632869741813931368,0,1767585600000000,NULL,'ann','film',NULL,NULL,NULL);
INSERT INTO "transfers" VALUES(2,-3270428829695477815,-3270428829695477815,0,1767585600000000,NULL,'ann','foam',NULL,NULL,NULL);
CREATE TABLE words (
	number INTEGER NOT NULL, 
	word TEXT NOT NULL, 
	CONSTRAINT pk_words PRIMARY KEY (number), 
	CONSTRAINT uq_words_word UNIQUE (word)
);
INSERT INTO "words" VALUES(1,'P1');
INSERT INTO "words" VALUES(2,'P2');
INSERT INTO "words" VALUES(3,'fleece');
INSERT INTO "words" VALUES(4,'film');
INSERT INTO "words" VALUES(5,'left_chest');
INSERT INTO "words" VALUES(6,'ann');
INSERT INTO "words" VALUES(7,'L1');
INSERT INTO "words" VALUES(8,'J1');
INSERT INTO "words" VALUES(9,'scorch');
INSERT INTO "words" VALUES(10,'bubble');
INSERT INTO "words" VALUES(11,'zap');
INSERT INTO "words" VALUES(12,'top');
INSERT INTO "words" VALUES(13,'prompt');
INSERT INTO "words" VALUES(14,'after_24h');
INSERT INTO "words" VALUES(15,'wash');
INSERT INTO "words" VALUES(16,'late');
INSERT INTO "words" VALUES(17,'operator');
INSERT INTO "words" VALUES(18,'transfer_lot');
INSERT INTO "words" VALUES(19,'garment_lot');
INSERT INTO "words" VALUES(20,'job');
INSERT INTO "words" VALUES(21,'zone');
INSERT INTO "words" VALUES(22,'pieces');
INSERT INTO "words" VALUES(23,'defective');
INSERT INTO "words" VALUES(24,'defects');
INSERT INTO "words" VALUES(25,'zones');
INSERT INTO "words" VALUES(26,'wrinkle');
INSERT INTO "words" VALUES(27,'left');
CREATE INDEX ix_inspections_pressed_at ON inspections (pressed_at);
CREATE INDEX ix_inspections_press ON inspections (press, inspected_at);
CREATE INDEX ix_inspections_piece_id ON inspections (piece_id);
CREATE INDEX ix_inspections_job ON inspections (job, pressed_at);
CREATE INDEX ix_inspections_transfer_lot ON inspections (transfer_lot, pressed_at);
CREATE INDEX ix_inspections_garment_lot ON inspections (garment_lot, pressed_at);
CREATE INDEX ix_inspections_corrected ON inspections (changed_at) WHERE revision > 1;
CREATE INDEX ix_audit_changed_at ON audit (changed_at);
COMMIT;
