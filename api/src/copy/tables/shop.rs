//! Shops, people and lists, column by column as in `db/schema.rs`.

use diesel::prelude::*;

use super::*;
use crate::db::schema::{
    access_token, code_entry, part_policy, person, role_grant, shop, shop_counter, shop_group,
    tablet,
};

copied! {
    ShopGroup in shop_group by (id) {
        id: Text,
        name: Text,
        created_at: Timestamp,
    }

    Shop in shop by (id) {
        id: Integer,
        public_id: Text,
        group_id: Text,
        code: Text,
        name: Text,
        time_zone: Text,
        currency: Text,
        labor_cost_minor: BigInt,
        posted_rate_minor: BigInt,
        window_days: Integer,
        week_start: Integer,
        ceiling_permille: Integer,
        return_diagnosis_minor: BigInt,
        return_proof_minor: BigInt,
        return_transport_minor: BigInt,
        return_bay_minor: BigInt,
        return_goodwill_minor: BigInt,
        assumed_cleaned_suspect_permille: Integer,
        assumed_bystander_tested_permille: Integer,
        assumed_bystander_untested_permille: Integer,
        assumed_replaced_permille: Integer,
        links_from: Nullable<Date>,
        version: Integer,
        date_style: Nullable<Text>,
        follow_up_days: Nullable<Integer>,
        follow_up_intermittent_days: Nullable<Integer>,
    }

    ShopCounter in shop_counter by (shop_id) {
        shop_id: Integer,
        change_no: BigInt,
        order_number: BigInt,
    }

    Person in person by (id) {
        id: Text,
        group_id: Text,
        name: Text,
        sign_in_name: Nullable<Text>,
        password_hash: Nullable<Text>,
        active: Bool,
        version: Integer,
        pin_hash: Nullable<Text>,
    }

    RoleGrant in role_grant by (id) {
        id: Text,
        person_id: Text,
        shop_id: Nullable<Integer>,
        role: Text,
    }

    AccessToken in access_token by (id) {
        id: Text,
        group_id: Text,
        person_id: Text,
        name: Text,
        scope: Text,
        token_hash: Text,
        made_at: Timestamp,
        ends_at: Nullable<Timestamp>,
        used_at: Nullable<Timestamp>,
        revoked_at: Nullable<Timestamp>,
        revoked_by: Nullable<Text>,
    }

    Tablet in tablet by (shop_id, id) {
        shop_id: Integer,
        id: Text,
        name: Text,
        token_hash: Text,
        enrolled_by: Text,
        enrolled_at: Timestamp,
        used_at: Nullable<Timestamp>,
        revoked_at: Nullable<Timestamp>,
    }

    CodeEntry in code_entry by (shop_id, list, code) {
        shop_id: Integer,
        list: Text,
        code: Text,
        label: Text,
        system: Nullable<Text>,
        kind: Nullable<Text>,
        curable: Nullable<Text>,
        typical_minutes: Nullable<Integer>,
        origin: Text,
        source: Nullable<Text>,
        retired_at: Nullable<Timestamp>,
        merged_into: Nullable<Text>,
        version: Integer,
        access: Nullable<Text>,
    }

    PartPolicy in part_policy by (shop_id, part) {
        shop_id: Integer,
        part: Text,
        access_minutes: Nullable<Integer>,
        clean_minutes: Nullable<Integer>,
        fit_minutes: Nullable<Integer>,
        cost_minor: Nullable<BigInt>,
        version: Nullable<Integer>,
    }
}
