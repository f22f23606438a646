/*
 * The body of every kind of entry: its normal form, and where a refusal points.
 */
#include "kinwire/entry.h"
#include "quoted.h"
#include "suite.h"

#include <stdio.h>
#include <string.h>

#define KEY "00000000-0000-4000-8000-00000000000a"

/* --- bodies ----------------------------------------------------------------------------------------- */

#define RUN(lines, packages) \
        "{'run':'DR-1','process':'draw','machine':'BLOCK-3','lines':" lines ",'packages':" packages "}"
#define SPEC(more)    "{'spec':'S','version':1,'what':'rod','tests':[]," more "}"
#define ONE_LINE      "[{'line':'1','feeds':[{'lot':'RC-1'}]}]"
#define FEEDS(feeds)  "[{'line':'1','feeds':" feeds "}]"
#define ONE_PACKAGE   "[{'lot':'BB-1','kind':'bobbin','length_mm':5}]"
#define RECEIVE(rest) "{'lot':'RC-1'," rest "}"

/* out NULL: as it was sent, but for the order of names. */
static const struct {
        const char *kind, *body, *normal;
} bodies[] = {
        {"heat", "{'grade':'C82D','heat':'H-A','supplier':'Northmark Steel'}", NULL},
        {"heat",
         "{'analysis_ppm':{'C':8200,'Cr+Ni+Cu':1000000,'Mn':0},'grade':'C82D','heat':'h.a/1','mill_certificate':'MC 1',"
         "'supplier':'x'}",
         "{'analysis_ppm':{'C':8200,'Cr+Ni+Cu':1000000,'Mn':0},'grade':'C82D','heat':'H.A/1','mill_certificate':'MC 1',"
         "'supplier':'x'}"},
        {"supply",
         "{'settings':{'drop_point':-12,'maker_s_name':'Sj\xc3\xb6'},'supplier':'A','supplier_lot':'7','supply':"
         "'LUB-1','what':'lubricant'}",
         NULL},
        {"receive", RECEIVE("'heat':'h','diameter_um':5500,'length_mm':1000000000000"),
         "{'diameter_um':5500,'heat':'H','length_mm':1000000000000,'lot':'RC-1'}"},
        {"receive",
         "{'diameter_um':5500,'heat':'H','kind':'rod','location':'bay 7','lot':'RC-1','mass_g':1,'measured_um':[5490,"
         "5510],'order':'PO 7 / a'}",
         NULL},
        {"receive", "{'kind':'core','length_mm':1,'lot':'FC-1','supply':'S'}", NULL},
        {"batch",
         "{'batch':'B','process':'patent','machine':'furn-1','started':'2026-03-04T09:12:00+01:00',"
         "'ended':'2026-03-04T09:12:00Z','lots':['a',{'lot':'b'},{'lot':'b','from_mm':0,'to_mm':1}]}",
         "{'batch':'B','ended':'2026-03-04T09:12:00Z','lots':[{'lot':'A'},{'lot':'B'},{'from_mm':0,'lot':'B','to_mm':1}"
         "],"
         "'machine':'FURN-1','process':'patent','started':'2026-03-04T08:12:00Z'}"},
        {"run", RUN(ONE_LINE, ONE_PACKAGE),
         "{'lines':[{'feeds':[{'lot':'RC-1'}],'line':'1'}],'machine':'BLOCK-3','packages':[{'kind':'bobbin','length_mm'"
         ":5,"
         "'lot':'BB-1'}],'process':'draw','run':'DR-1'}"},
        {"run",
         "{'run':'r','process':'close','machine':'m','batch':'b','tolerance_ppm':0,'supplies':[],'settings':{},"
         "'override':{'reason':'paper'},"
         "'lines':[{'line':'core','feeds':[{'lot':'a','take_mm':1,'off':'inner'},{'lot':'a','from_mm':0,'to_mm':1,'"
         "weld':"
         "'w','join':'tuck','affected_mm':0,'seen_at_mm':1}]},{'line':'Core-2','feeds':[{'lot':'a'}]}],"
         "'packages':[{'scrap_mm':1,'reason':'two\\nlines'},{'scrap_mm':1},{'lot':'x','kind':'rope','length_mm':1,'"
         "mass_g':1,"
         "'construction':'6x36WS','doffed':'2026-01-01t00:00:00.9z','location':'l'}]}",
         "{'batch':'B','lines':[{'feeds':[{'lot':'A','off':'inner','take_mm':1},{'affected_mm':0,'from_mm':0,'join':'"
         "tuck',"
         "'lot':'A','seen_at_mm':1,'to_mm':1,'weld':'W'}],'line':'core'},{'feeds':[{'lot':'A'}],'line':'Core-2'}],"
         "'machine':'M','override':{'reason':'paper'},'packages':[{'reason':'two\\nlines','scrap_mm':1},{'scrap_mm':1},"
         "{'construction':'6x36WS','doffed':'2026-01-01T00:00:00Z','kind':'rope','length_mm':1,'location':'l','lot':'X'"
         ","
         "'mass_g':1}],'process':'close','run':'R','settings':{},'supplies':[],'tolerance_ppm':0}"},
        {"test",
         "{'at_mm':0,'instrument':'UTM-1','lot':'L','results':{'tensile_kpa':1770000,'torsions':0},'sample_mm':1,"
         "'test':'T-1','verdict':'fail'}",
         NULL},
        {"hold", "{'at_size':412,'hold':'q1','lots':['a'],'question':'heat:H1 forward','reason':'r'}",
         "{'at_size':412,'hold':'Q1','lots':[{'lot':'A'}],'question':'heat:H1 forward','reason':'r'}"},
        {"hold",
         "{'decides':'J. Ferro','hold':'q1','lots':['a'],'reason':'r','trace':{'direction':'kin','from_mm':0,'origin':"
         "'lot:a','root':'00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff','since':"
         "'2026-01-01T01:00:00+01:00','size':7,'to_mm':5}}",
         "{'decides':'J. Ferro','hold':'Q1','lots':[{'lot':'A'}],'reason':'r','trace':{'direction':'kin','from_mm':0,"
         "'origin':'lot:A','root':'00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff','since':"
         "'2026-01-01T00:00:00Z','size':7,'to_mm':5}}"},
        {"release", "{'disposition':'concession','hold':'Q1','reason':'r'}", NULL},
        {"release", "{'disposition':'rework','hold':'q1','into':['draw','patent'],'reason':'r'}",
         "{'disposition':'rework','hold':'Q1','into':['draw','patent'],'reason':'r'}"},
        {"release", "{'agreed':7,'disposition':'regrade','grade':'C78D','hold':'Q1','reason':'r'}", NULL},
        {"drill", "{'lot':'a','note':'with the auditor'}", "{'lot':'A','note':'with the auditor'}"},
        {"drill", "{'chosen':{},'found':{'took_us':1},'seed':{'size':1,'text':'rain'}}", NULL},
        {"sample", "{'n':20,'seed':{'size':412,'text':'two\xc2\xa0words'}}", NULL},
        {"agree", "{'disposition':'release','hold':'q1','lots':['a'],'reason':'r'}",
         "{'disposition':'release','hold':'Q1','lots':[{'lot':'A'}],'reason':'r'}"},
        {"release", "{'disposition':'scrap','hold':'Q1','lots':[{'from_mm':0,'lot':'A','to_mm':1}],'reason':'r'}",
         NULL},
        {"scrap", "{'lot':'A','reason':'r'}", NULL},
        {"scrap", "{'from_mm':0,'lot':'A','reason':'r','to_mm':1000000000000}", NULL},
        {"certify", "{'certificate':'C','reels':['r1',{'lot':'r2'}],'statement':'s','tests':['t'],'type':'3.1'}",
         "{'certificate':'C','reels':['R1','R2'],'statement':'s','tests':['T'],'type':'3.1'}"},
        {"certify",
         "{'address':'https://mill.example:8420/kw/','certificate':'C','countersigned':{'for':'Port of "
         "Calder','name':'B'},"
         "'document':{'any':[1]},'reels':['R'],'replaces':'b','signed':{'name':'A','position':'inspector'},'type':'3.2'"
         "}",
         "{'address':'https://mill.example:8420/kw/','certificate':'C','countersigned':{'for':'Port of "
         "Calder','name':'B'},"
         "'document':{'any':[1]},'reels':['R'],'replaces':'B','signed':{'name':'A','position':'inspector'},'type':'3.2'"
         "}"},
        {"withdraw", "{'certificate':'C','reason':'r'}", NULL},
        {"clear", "{'certificate':'c','holds':['q1'],'reason':'r'}", "{'certificate':'C','holds':['Q1'],'reason':'r'}"},
        {"dispatch", "{'consignee':'Harbour Cranes','consignment':'D','lots':[{'lot':'x'},'y']}",
         "{'consignee':'Harbour Cranes','consignment':'D','lots':['X','Y']}"},
        {"move", "{'location':'yard 3','lots':['x']}", "{'location':'yard 3','lots':['X']}"},
        {"correct", "{'entry':'00000000-0000-4000-8000-00000000000B','reason':'r','body':{'anything':[null]}}",
         "{'body':{'anything':[null]},'entry':'00000000-0000-4000-8000-00000000000b','reason':'r'}"},
        {"void", "{'entry':'00000000-0000-4000-8000-00000000000b','reason':'r'}", NULL},
        {"order",
         "{'construction':'6x36WS','customer':'C','diameter_tolerance_um':0,'diameter_um':16000,'grade':'1770','"
         "machine':"
         "'CL-1','one_heat':true,'order':'o-7','pieces':[{'length_mm':1,'n':2}],'process':'close'}",
         "{'construction':'6x36WS','customer':'C','diameter_tolerance_um':0,'diameter_um':16000,'grade':'1770','"
         "machine':"
         "'CL-1','one_heat':true,'order':'O-7','pieces':[{'length_mm':1,'n':2}],'process':'close'}"},
        {"open",
         "{'run':'r','process':'strand','machine':'m','lines':['1','core','Core'],'order':'o','started':'2026-01-01T00:"
         "00:"
         "00Z','accepted':[{'code':'wrong-grade','reason':'x'}]}",
         "{'accepted':[{'code':'wrong-grade','reason':'x'}],'lines':['1','core','Core'],'machine':'M','order':'O','"
         "process':"
         "'strand','run':'R','started':'2026-01-01T00:00:00Z'}"},
        {"load",
         "{'run':'r','line':'core','lot':'l','take_mm':1,'off':'inner','weld':'w','seen_at_mm':1,'taken':[[0,1]]}",
         "{'line':'core','lot':'L','off':'inner','run':'R','seen_at_mm':1,'take_mm':1,'taken':[[0,1]],'weld':'W'}"},
        {"doff", "{'kind':'strand','length_mm':1,'lot':'SS-1','run':'R'}", NULL},
        {"doff", "{'reason':'x','run':'R','scrap_mm':1}", NULL},
        {"close", "{'ended':'2026-01-01T00:00:00Z','left':[{'left_mm':0,'line':'1'}],'run':'R'}", NULL},
        {"note", "{'about':'machine:block-3','text':'a\\n\\tb'}", "{'about':'machine:BLOCK-3','text':'a\\n\\tb'}"},
        {"instrument",
         "{'instrument':'utm-1','what':'tensile machine','calibrated':'2026-01-01T01:00:00+01:00',"
         "'valid_until':'2026-01-01T00:00:00Z','note':'a\\nb'}",
         "{'calibrated':'2026-01-01T00:00:00Z','instrument':'UTM-1','note':'a\\nb',"
         "'valid_until':'2026-01-01T00:00:00Z','what':'tensile machine'}"},
        {"spec",
         "{'construction':'c','diameter_below_um':1500,'diameter_from_um':1000,'grade':'1770','heats':'one',"
         "'joint_multiple':18,'joint_of_um':16000,'limits':{'bends':{'min':0},'lay_um':{'max':7,'min':7}},"
         "'spec':'w/1','tests':[{'n':2,'per':'run','property':'bends'}],'tolerance_ppm':{'draw':0},'version':1,"
         "'what':'wire'}",
         "{'construction':'c','diameter_below_um':1500,'diameter_from_um':1000,'grade':'1770','heats':'one',"
         "'joint_multiple':18,'joint_of_um':16000,'limits':{'bends':{'min':0},'lay_um':{'max':7,'min':7}},"
         "'spec':'W/1','tests':[{'n':2,'per':'run','property':'bends'}],'tolerance_ppm':{'draw':0},'version':1,"
         "'what':'wire'}"},
        {"spec", "{'limits':{},'spec':'R','tests':[],'version':7,'what':'rope'}", NULL},
        {"person", "{'badge':'b/1','closed':true,'name':'A B','note':'n\\nm','person':'ab-1','roles':['auditor']}",
         "{'badge':'B/1','closed':true,'name':'A B','note':'n\\nm','person':'AB-1','roles':['auditor']}"},
        {"terminal", "{'closed':false,'note':'n','terminal':'t-1','where':'bay 2'}",
         "{'closed':false,'note':'n','terminal':'T-1','where':'bay 2'}"},
        {"token",
         "{'closed':false,'expires':'2027-01-01T01:00:00+01:00','note':'n','only':{'instrument':'utm-1','kind':'test',"
         "'machine':'m'},'role':'operator','token':'t'}",
         "{'closed':false,'expires':'2027-01-01T00:00:00Z','note':'n','only':{'instrument':'UTM-1','kind':'test',"
         "'machine':'M'},'role':'operator','token':'T'}"},
        {"access",
         "{'count':2,'person':'p','since':'2026-01-01T00:00:00Z','terminal':'t','token':'k','what':'refused','why':'w'"
         "}",
         "{'count':2,'person':'P','since':'2026-01-01T00:00:00Z','terminal':'T','token':'K','what':'refused','why':'w'"
         "}"},
};

static int check(const char *kind, const char *body, char normal[8192], struct kw_error *err)
{
        struct kw_buf out = {0};
        cJSON *json = cJSON_Parse(quoted(body));
        int rc;

        ck_assert_msg(json != NULL, "%s", body);
        rc = kw_body_check(kind, json, "/body", err);
        kw_json_canonical(json, &out);
        snprintf(normal, 8192, "%s", kw_buf_text(&out));
        kw_buf_free(&out);
        cJSON_Delete(json);
        return rc;
}

START_TEST(a_right_body_is_taken_into_its_normal_form)
{
        for (size_t i = 0; i < sizeof(bodies) / sizeof(*bodies); i++) {
                struct kw_error err = {0};
                char normal[8192], again[8192];

                ck_assert_msg(check(bodies[i].kind, bodies[i].body, normal, &err) == 0, "%s: %s %s", bodies[i].body,
                              err.pointer, err.text);
                ck_assert_str_eq(normal, quoted(bodies[i].normal ? bodies[i].normal : bodies[i].body));
                ck_assert_int_eq(check(bodies[i].kind, normal, again, &err), 0);
                ck_assert_str_eq(again, normal);
        }
}
END_TEST

START_TEST(every_kind_has_a_right_body_here)
{
        size_t kinds = 0;

        for (; kw_kind_name(kinds); kinds++) {
                bool met = false;

                for (size_t i = 0; i < sizeof(bodies) / sizeof(*bodies); i++)
                        met = met || strcmp(bodies[i].kind, kw_kind_name(kinds)) == 0;
                ck_assert_msg(met, "%s", kw_kind_name(kinds));
        }
        ck_assert_uint_eq(kinds, 31);
}
END_TEST

static const struct {
        const char *kind, *body;
        int what;
        const char *pointer;
} wrong[] = {
        {"heat", "{}", KW_MISSING, "/body/heat"},
        {"heat", "[]", KW_BAD_TYPE, "/body"},
        {"heat", "{'heat':'H','supplier':'s'}", KW_MISSING, "/body/grade"},
        {"heat", "{'heat':1}", KW_BAD_TYPE, "/body/heat"},
        {"heat", "{'heat':null}", KW_BAD_TYPE, "/body/heat"},
        {"heat", "{'heat':''}", KW_BAD_CODE, "/body/heat"},
        {"heat", "{'heat':'A B'}", KW_BAD_CODE, "/body/heat"},
        {"heat", "{'heat':'A_B'}", KW_BAD_CODE, "/body/heat"},
        {"heat", "{'heat':'\xc3\x84'}", KW_BAD_CODE, "/body/heat"},
        {"heat", "{'heat':'01234567890123456789012345678901234567890'}", KW_BAD_CODE, "/body/heat"},
        {"heat", "{'Heat':'H'}", KW_UNKNOWN_MEMBER, "/body/Heat"},
        {"heat", "{'a/b~':'H'}", KW_UNKNOWN_MEMBER, "/body/a~1b~0"},
        {"heat", "{'supplier':''}", KW_OUT_OF_RANGE, "/body/supplier"},
        {"heat", "{'supplier':'a\\nb'}", KW_BAD_VALUE, "/body/supplier"},
        {"heat", "{'supplier':'a\\u007f'}", KW_BAD_VALUE, "/body/supplier"},
        {"heat", "{'supplier':'a\\u0085'}", KW_BAD_VALUE, "/body/supplier"},
        {"heat", "{'analysis_ppm':{}}", KW_OUT_OF_RANGE, "/body/analysis_ppm"},
        {"heat", "{'analysis_ppm':[]}", KW_BAD_TYPE, "/body/analysis_ppm"},
        {"heat", "{'analysis_ppm':{'Cmn':1}}", KW_UNKNOWN_MEMBER, "/body/analysis_ppm/Cmn"},
        {"heat", "{'analysis_ppm':{'':1}}", KW_UNKNOWN_MEMBER, "/body/analysis_ppm/"},
        {"heat", "{'analysis_ppm':{'C+':1}}", KW_UNKNOWN_MEMBER, "/body/analysis_ppm/C+"},
        {"heat", "{'analysis_ppm':{'+C':1}}", KW_UNKNOWN_MEMBER, "/body/analysis_ppm/+C"},
        {"heat", "{'analysis_ppm':{'Cr+Ni+Cu+Mo+V':1}}", KW_UNKNOWN_MEMBER, "/body/analysis_ppm/Cr+Ni+Cu+Mo+V"},
        {"heat", "{'analysis_ppm':{'C':1000001}}", KW_OUT_OF_RANGE, "/body/analysis_ppm/C"},
        {"heat", "{'analysis_ppm':{'C':'1'}}", KW_BAD_TYPE, "/body/analysis_ppm/C"},
        {"supply", "{'settings':{'A':1}}", KW_UNKNOWN_MEMBER, "/body/settings/A"},
        {"supply", "{'settings':{'a':true}}", KW_BAD_TYPE, "/body/settings/a"},
        {"supply", "{'settings':{'a':''}}", KW_OUT_OF_RANGE, "/body/settings/a"},
        {"receive", RECEIVE("'diameter_um':5500,'length_mm':1"), KW_MISSING, "/body/heat"},
        {"receive", RECEIVE("'heat':'H','supply':'S','diameter_um':5500,'length_mm':1"), KW_BAD_VALUE, "/body/supply"},
        {"receive", RECEIVE("'heat':'H','diameter_um':5500"), KW_MISSING, "/body/length_mm"},
        {"receive", RECEIVE("'heat':'H','length_mm':1"), KW_MISSING, "/body/diameter_um"},
        {"receive", RECEIVE("'heat':'H','length_mm':1,'kind':'bobbin'"), KW_MISSING, "/body/diameter_um"},
        {"receive", RECEIVE("'supply':'S','mass_g':1,'kind':'core'"), KW_MISSING, "/body/length_mm"},
        {"receive", RECEIVE("'heat':'H','kind':'drum'"), KW_BAD_VALUE, "/body/kind"},
        {"receive", RECEIVE("'diameter_um':9"), KW_OUT_OF_RANGE, "/body/diameter_um"},
        {"receive", RECEIVE("'diameter_um':200001"), KW_OUT_OF_RANGE, "/body/diameter_um"},
        {"receive", RECEIVE("'length_mm':0"), KW_OUT_OF_RANGE, "/body/length_mm"},
        {"receive", RECEIVE("'length_mm':1000000000001"), KW_OUT_OF_RANGE, "/body/length_mm"},
        {"receive", RECEIVE("'mass_g':10000000001"), KW_OUT_OF_RANGE, "/body/mass_g"},
        {"receive", RECEIVE("'measured_um':[]"), KW_OUT_OF_RANGE, "/body/measured_um"},
        {"receive", RECEIVE("'measured_um':5500"), KW_BAD_TYPE, "/body/measured_um"},
        {"receive", RECEIVE("'measured_um':[5500,1]"), KW_OUT_OF_RANGE, "/body/measured_um/1"},
        {"receive", RECEIVE("'order':'a\\tb'"), KW_BAD_VALUE, "/body/order"},
        {"batch", "{'process':'bake'}", KW_BAD_VALUE, "/body/process"},
        {"batch", "{'started':'4 March'}", KW_BAD_TIME, "/body/started"},
        {"batch",
         "{'batch':'B','process':'clean','machine':'M','started':'2026-03-04T09:12:00Z',"
         "'ended':'2026-03-04T10:11:59+01:00'}",
         KW_BAD_ORDER, "/body/ended"},
        {"batch", "{'lots':[]}", KW_OUT_OF_RANGE, "/body/lots"},
        {"batch", "{'lots':[{'lot':'A','from_mm':1}]}", KW_MISSING, "/body/lots/0/to_mm"},
        {"batch", "{'lots':['A',{'lot':'A','to_mm':1}]}", KW_MISSING, "/body/lots/1/from_mm"},
        {"batch", "{'lots':[{'lot':'A','from_mm':1,'to_mm':1}]}", KW_BAD_ORDER, "/body/lots/0/to_mm"},
        {"batch", "{'lots':['A B']}", KW_BAD_CODE, "/body/lots/0/lot"},
        {"batch", "{'lots':[7]}", KW_BAD_TYPE, "/body/lots/0"},
        {"batch", "{'lots':[{}]}", KW_MISSING, "/body/lots/0/lot"},
        {"run", RUN("[]", ONE_PACKAGE), KW_OUT_OF_RANGE, "/body/lines"},
        {"run", RUN("[{'line':'1'}]", ONE_PACKAGE), KW_MISSING, "/body/lines/0/feeds"},
        {"run", RUN("[{'feeds':[]}]", ONE_PACKAGE), KW_OUT_OF_RANGE, "/body/lines/0/feeds"},
        {"run", RUN("['RC-1']", ONE_PACKAGE), KW_BAD_TYPE, "/body/lines/0"},
        {"run", RUN(FEEDS("['RC-1']"), ONE_PACKAGE), KW_BAD_TYPE, "/body/lines/0/feeds/0"},
        {"run", RUN(FEEDS("[{}]"), ONE_PACKAGE), KW_MISSING, "/body/lines/0/feeds/0/lot"},
        {"run", RUN(FEEDS("[{'lot':'A','from_mm':0,'to_mm':1,'take_mm':1}]"), ONE_PACKAGE), KW_BAD_VALUE,
         "/body/lines/0/feeds/0/take_mm"},
        {"run", RUN(FEEDS("[{'lot':'A','take_mm':0}]"), ONE_PACKAGE), KW_OUT_OF_RANGE, "/body/lines/0/feeds/0/take_mm"},
        {"run", RUN(FEEDS("[{'lot':'A','off':'top'}]"), ONE_PACKAGE), KW_BAD_VALUE, "/body/lines/0/feeds/0/off"},
        {"run", RUN(FEEDS("[{'lot':'A','weld':'W'}]"), ONE_PACKAGE), KW_BAD_VALUE, "/body/lines/0/feeds/0/weld"},
        {"run", RUN(FEEDS("[{'lot':'A','join':'weld'}]"), ONE_PACKAGE), KW_BAD_VALUE, "/body/lines/0/feeds/0/join"},
        {"run", RUN(FEEDS("[{'lot':'A','affected_mm':1}]"), ONE_PACKAGE), KW_BAD_VALUE,
         "/body/lines/0/feeds/0/affected_mm"},
        {"run", RUN(FEEDS("[{'lot':'A','seen_at_mm':1}]"), ONE_PACKAGE), KW_BAD_VALUE,
         "/body/lines/0/feeds/0/seen_at_mm"},
        {"run", RUN(FEEDS("[{'lot':'A'},{'lot':'B','seen_at_mm':0}]"), ONE_PACKAGE), KW_OUT_OF_RANGE,
         "/body/lines/0/feeds/1/seen_at_mm"},
        {"run", RUN(FEEDS("[{'lot':'A'},{'lot':'B','affected_mm':1000000001}]"), ONE_PACKAGE), KW_OUT_OF_RANGE,
         "/body/lines/0/feeds/1/affected_mm"},
        {"run", RUN(FEEDS("[{'lot':'A'},{'lot':'B','join':'glue'}]"), ONE_PACKAGE), KW_BAD_VALUE,
         "/body/lines/0/feeds/1/join"},
        {"run",
         RUN("[{'line':'1','feeds':[{'lot':'A'},{'lot':'B','weld':'W'}]},{'line':'2','feeds':[{'lot':'A'},{'lot':'B'},"
             "{'lot':'C','weld':'w'}]}]",
             ONE_PACKAGE),
         KW_BAD_VALUE, "/body/lines/1/feeds/2/weld"},
        {"run", RUN("[{'line':'a','feeds':[{'lot':'A'}]},{'line':'a','feeds':[{'lot':'B'}]}]", ONE_PACKAGE),
         KW_BAD_VALUE, "/body/lines/1/line"},
        {"run", RUN(ONE_LINE, "[]"), KW_OUT_OF_RANGE, "/body/packages"},
        {"run", RUN(ONE_LINE, "[{'lot':'A','length_mm':1}]"), KW_MISSING, "/body/packages/0/kind"},
        {"run", RUN(ONE_LINE, "[{'scrap_mm':1,'lot':'A'}]"), KW_UNKNOWN_MEMBER, "/body/packages/0/lot"},
        {"run", RUN(ONE_LINE, "[{'scrap_mm':0}]"), KW_OUT_OF_RANGE, "/body/packages/0/scrap_mm"},
        {"run", RUN(ONE_LINE, "[{'reason':'r'}]"), KW_UNKNOWN_MEMBER, "/body/packages/0/reason"},
        {"run", RUN(ONE_LINE, "[4]"), KW_BAD_TYPE, "/body/packages/0"},
        {"run",
         RUN(ONE_LINE,
             "[{'lot':'A','kind':'coil','length_mm':1},{'scrap_mm':1},{'lot':'a','kind':'coil','length_mm':1}]"),
         KW_BAD_VALUE, "/body/packages/2/lot"},
        {"run", "{'tolerance_ppm':1000000}", KW_OUT_OF_RANGE, "/body/tolerance_ppm"},
        {"run", "{'tolerance_ppm':-1}", KW_OUT_OF_RANGE, "/body/tolerance_ppm"},
        {"run", "{'supplies':['A','B','a']}", KW_BAD_VALUE, "/body/supplies/2"},
        {"run", "{'override':'because'}", KW_BAD_TYPE, "/body/override"},
        {"run", "{'override':{}}", KW_MISSING, "/body/override/reason"},
        {"test", "{'results':{}}", KW_OUT_OF_RANGE, "/body/results"},
        {"test", "{'results':{'bends':-1}}", KW_OUT_OF_RANGE, "/body/results/bends"},
        {"test", "{'results':{'bends':'9'}}", KW_BAD_TYPE, "/body/results/bends"},
        {"test", "{'results':{'0123456789012345678901234567890123456789_':9}}", KW_UNKNOWN_MEMBER,
         "/body/results/0123456789012345678901234567890123456789_"},
        {"test", "{'verdict':'ok'}", KW_BAD_VALUE, "/body/verdict"},
        {"test", "{'sample_mm':0}", KW_OUT_OF_RANGE, "/body/sample_mm"},
        {"hold", "{'hold':'Q','reason':'r'}", KW_MISSING, "/body/lots"},
        {"hold", "{'at_size':-1}", KW_OUT_OF_RANGE, "/body/at_size"},
        {"release", "{'disposition':'use'}", KW_BAD_VALUE, "/body/disposition"},
        {"scrap", "{'lot':'A','from_mm':2,'to_mm':1,'reason':'r'}", KW_BAD_ORDER, "/body/to_mm"},
        {"certify", "{'type':'3'}", KW_BAD_VALUE, "/body/type"},
        {"certify", "{'type':3}", KW_BAD_TYPE, "/body/type"},
        {"certify", "{'reels':[]}", KW_OUT_OF_RANGE, "/body/reels"},
        {"withdraw", "{'certificate':'C'}", KW_MISSING, "/body/reason"},
        {"dispatch", "{'lots':[{'lot':'A','from_mm':0,'to_mm':1}]}", KW_BAD_TYPE, "/body/lots/0"},
        {"dispatch", "{'lots':[{'lot':7}]}", KW_BAD_TYPE, "/body/lots/0"},
        {"dispatch", "{'lots':[{'reel':'A'}]}", KW_BAD_TYPE, "/body/lots/0"},
        {"dispatch", "{'lots':['A',{'lot':'a'}]}", KW_BAD_VALUE, "/body/lots/1"},
        {"release", "{'disposition':'release','hold':'Q1','into':['draw'],'reason':'r'}", KW_BAD_VALUE, "/body/into"},
        {"release", "{'disposition':'rework','hold':'Q1','into':[],'reason':'r'}", KW_OUT_OF_RANGE, "/body/into"},
        {"release", "{'disposition':'rework','hold':'Q1','into':['draw','draw'],'reason':'r'}", KW_BAD_VALUE,
         "/body/into/1"},
        {"release", "{'disposition':'rework','grade':'C78D','hold':'Q1','reason':'r'}", KW_BAD_VALUE, "/body/grade"},
        {"drill", "{'lot':'a','seed':{'size':1,'text':'x'}}", KW_BAD_VALUE, "/body/seed"},
        {"drill", "{'note':'x'}", KW_MISSING, "/body/lot"},
        {"drill", "{'seed':{'size':0,'text':'x'}}", KW_OUT_OF_RANGE, "/body/seed/size"},
        {"sample", "{'n':21,'seed':{'size':1,'text':'x'}}", KW_OUT_OF_RANGE, "/body/n"},
        {"sample", "{'n':1}", KW_MISSING, "/body/seed"},
        {"agree", "{'agreed':3,'disposition':'release','hold':'Q1','reason':'r'}", KW_UNKNOWN_MEMBER, "/body/agreed"},
        {"hold",
         "{'hold':'q1','lots':['a'],'reason':'r','trace':{'origin':'heat:H','root':"
         "'00112233445566778899AABBCCDDEEFF00112233445566778899aabbccddeeff','size':7}}",
         KW_BAD_VALUE, "/body/trace/root"},
        {"hold", "{'hold':'q1','lots':['a'],'reason':'r','trace':{'origin':'heat:H','size':7}}", KW_MISSING,
         "/body/trace/root"},
        {"move", "{'location':'012345678901234567890123456789012345678901234567890123456789012345678901234567890'}",
         KW_OUT_OF_RANGE, "/body/location"},
        {"correct", "{'entry':'7'}", KW_BAD_VALUE, "/body/entry"},
        {"correct", "{'body':[]}", KW_BAD_TYPE, "/body/body"},
        {"correct", "{'entry':'" KEY "','reason':'r'}", KW_MISSING, "/body/body"},
        {"void", "{'entry':'00000000-0000-4000-8000-00000000000g'}", KW_BAD_VALUE, "/body/entry"},
        {"void", "{'entry':'0000000000000-4000-8000-00000000000a'}", KW_BAD_VALUE, "/body/entry"},
        {"note", "{'about':'BB-12'}", KW_BAD_VALUE, "/body/about"},
        {"note", "{'about':'order:7'}", KW_BAD_VALUE, "/body/about"},
        {"note", "{'about':'Lot:7'}", KW_BAD_VALUE, "/body/about"},
        {"note", "{'about':'lot:'}", KW_BAD_CODE, "/body/about"},
        {"note", "{'about':'lot:a b'}", KW_BAD_CODE, "/body/about"},
        {"note", "{'text':'a\\rb'}", KW_BAD_VALUE, "/body/text"},
        {"person", "{'person':'P','name':'N'}", KW_MISSING, "/body/roles"},
        {"person", "{'person':'P','name':'N','roles':['boss']}", KW_BAD_VALUE, "/body/roles/0"},
        {"person", "{'person':'P','name':'N','roles':['quality','quality']}", KW_BAD_VALUE, "/body/roles/1"},
        {"person", "{'person':'P','name':'N','roles':[],'password':'x'}", KW_UNKNOWN_MEMBER, "/body/password"},
        {"token", "{'token':'T','role':'auditor','only':{'kind':'test','read':'ledger'}}", KW_BAD_VALUE,
         "/body/only/read"},
        {"certify", "{'certificate':'C','type':'3.1','reels':['R'],'address':'mill.example'}", KW_BAD_VALUE,
         "/body/address"},
        {"certify", "{'certificate':'C','type':'3.1','reels':['R'],'address':'https://mill.example'}", KW_BAD_VALUE,
         "/body/address"},
        {"certify", "{'certificate':'C','type':'3.1','reels':['R'],'address':'javascript:alert(1)/'}", KW_BAD_VALUE,
         "/body/address"},
        {"certify", "{'certificate':'C','type':'3.1','reels':['R'],'address':'http://a/?b=/'}", KW_BAD_VALUE,
         "/body/address"},
        {"certify", "{'certificate':'C','type':'3.2','reels':['R'],'countersigned':{'name':'B'}}", KW_MISSING,
         "/body/countersigned/for"},
        {"certify", "{'certificate':'C','type':'3.1','reels':['R'],'signed':'A'}", KW_BAD_TYPE, "/body/signed"},
        {"certify", "{'certificate':'C','type':'3.1','reels':['R'],'document':'x'}", KW_BAD_TYPE, "/body/document"},
        {"clear", "{'certificate':'C'}", KW_MISSING, "/body/reason"},
        {"access", "{'what':'guessed'}", KW_BAD_VALUE, "/body/what"},
        {"instrument", "{'instrument':'U'}", KW_MISSING, "/body/what"},
        {"instrument",
         "{'instrument':'U','what':'w','calibrated':'2026-01-02T00:00:00Z','valid_until':'2026-01-01T00:00:00Z'}",
         KW_BAD_ORDER, "/body/valid_until"},
        {"spec", SPEC("'limits':{'Bends':{'min':1}}"), KW_UNKNOWN_MEMBER, "/body/limits/Bends"},
        {"spec", SPEC("'limits':{'bends':{}}"), KW_MISSING, "/body/limits/bends/min"},
        {"spec", SPEC("'limits':{'bends':9}"), KW_BAD_TYPE, "/body/limits/bends"},
        {"spec", SPEC("'limits':{'bends':{'min':2,'max':1}}"), KW_BAD_ORDER, "/body/limits/bends/max"},
        {"spec", SPEC("'limits':{},'diameter_from_um':10,'diameter_below_um':10"), KW_BAD_ORDER,
         "/body/diameter_below_um"},
        {"spec", SPEC("'limits':{},'tolerance_ppm':{'bake':1}"), KW_UNKNOWN_MEMBER, "/body/tolerance_ppm/bake"},
        {"spec", SPEC("'limits':{},'heats':'two'"), KW_BAD_VALUE, "/body/heats"},
        {"spec", SPEC("'joint_multiple':0"), KW_OUT_OF_RANGE, "/body/joint_multiple"},
        {"spec", "{'tests':[{'property':'Bends','per':'lot','n':1}]}", KW_BAD_VALUE, "/body/tests/0/property"},
        {"spec", "{'tests':[{'property':'a','per':'lot','n':1},{'property':'a','per':'run','n':1}]}", KW_BAD_VALUE,
         "/body/tests/1/property"},
        {"spec", "{'tests':[{'property':'a','per':'reel','n':1}]}", KW_BAD_VALUE, "/body/tests/0/per"},
        {"spec", "{'version':0}", KW_OUT_OF_RANGE, "/body/version"},
        {"spec", "{'what':'coil'}", KW_BAD_VALUE, "/body/what"},
        {"sale", "{}", KW_NOT_ENTRY, "/body"},
};

START_TEST(a_wrong_body_is_refused_at_its_place)
{
        for (size_t i = 0; i < sizeof(wrong) / sizeof(*wrong); i++) {
                struct kw_error err = {0};
                char normal[8192];
                const int rc = check(wrong[i].kind, wrong[i].body, normal, &err);

                ck_assert_msg(rc == wrong[i].what && err.what == (enum kw_refusal)rc, "%s %s: %d, not %d: %s",
                              wrong[i].kind, wrong[i].body, rc, wrong[i].what, err.text);
                ck_assert_msg(strcmp(err.pointer, wrong[i].pointer) == 0, "%s %s: at %s, not %s", wrong[i].kind,
                              wrong[i].body, err.pointer, wrong[i].pointer);
                ck_assert_uint_gt(strlen(err.text), 10);
        }
}
END_TEST

/* Characters are counted, not bytes. */
START_TEST(free_text_has_2000_characters)
{
        static const struct {
                const char *character;
                int n, rc;
        } cases[] = {{"a", 2000, 0},
                     {"a", 2001, KW_OUT_OF_RANGE},
                     {"\xf0\x9f\x98\x82", 2000, 0},
                     {"\xc3\xa4", 2001, KW_OUT_OF_RANGE}};

        for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
                cJSON *body = cJSON_CreateObject();
                char text[8200] = "";
                struct kw_error err;

                for (int k = 0; k < cases[i].n; k++)
                        strcat(text, cases[i].character);
                cJSON_AddStringToObject(body, "about", "lot:X");
                cJSON_AddStringToObject(body, "text", text);
                ck_assert_int_eq(kw_body_check("note", body, "/body", &err), cases[i].rc);
                cJSON_Delete(body);
        }
}
END_TEST

START_TEST(lists_end_where_they_should)
{
        static const struct {
                const char *kind, *list;
                int most;
        } cases[] = {{"hold", "lots", 20000},
                     {"dispatch", "lots", 20000},
                     {"certify", "reels", 2000},
                     {"run", "supplies", 2000}};

        for (size_t i = 0; i < sizeof(cases) / sizeof(*cases); i++) {
                cJSON *body = cJSON_CreateObject(), *list = cJSON_AddArrayToObject(body, cases[i].list);
                struct kw_error err;
                char code[16];

                for (int k = 0; k < cases[i].most; k++) {
                        snprintf(code, sizeof(code), "x%d", k);
                        cJSON_AddItemToArray(list, cJSON_CreateString(code));
                }
                ck_assert_int_eq(kw_body_check(cases[i].kind, body, "/body", &err), KW_MISSING);
                cJSON_AddItemToArray(list, cJSON_CreateString("ONE-MORE"));
                ck_assert_int_eq(kw_body_check(cases[i].kind, body, "/body", &err), KW_OUT_OF_RANGE);
                cJSON_Delete(body);
        }
}
END_TEST

/* --- joints --------------------------------------------------------------------------------------------- */

START_TEST(joints_without_a_name_get_one)
{
        cJSON *body = cJSON_Parse(quoted(RUN("[{'line':'1','feeds':[{'lot':'A'},{'lot':'B'},{'lot':'C','weld':'W'}]},"
                                             "{'line':'2','feeds':[{'lot':'D'},{'lot':'E'}]}]",
                                             ONE_PACKAGE)));
        struct kw_buf out = {0};

        ck_assert_int_eq(kw_body_name_welds(body, KEY), 0);
        ck_assert_int_eq(kw_body_name_welds(body, "another key: all have a name by now"), 0);
        kw_json_canonical(kw_json_get(body, "lines"), &out);
        /* printf %s "$KEY-1" | sha256sum: the number counts named joints too */
        ck_assert_str_eq(kw_buf_text(&out), "[{\"feeds\":[{\"lot\":\"A\"},{\"lot\":\"B\",\"weld\":\"J-92E7AC50EFD2\"},"
                                            "{\"lot\":\"C\",\"weld\":\"W\"}],\"line\":\"1\"},"
                                            "{\"feeds\":[{\"lot\":\"D\"},{\"lot\":\"E\",\"weld\":\"J-D874AE22ABD8\"}],"
                                            "\"line\":\"2\"}]");
        kw_buf_free(&out);
        cJSON_Delete(body);
}
END_TEST

static void add(TCase *tests)
{
        tcase_add_test(tests, a_right_body_is_taken_into_its_normal_form);
        tcase_add_test(tests, every_kind_has_a_right_body_here);
        tcase_add_test(tests, a_wrong_body_is_refused_at_its_place);
        tcase_add_test(tests, free_text_has_2000_characters);
        tcase_add_test(tests, lists_end_where_they_should);
        tcase_add_test(tests, joints_without_a_name_get_one);
}

int main(void)
{
        return run_suite("bodies", add);
}
